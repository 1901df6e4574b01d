// A picture to look closely at: moved and brought nearer by pointer, two fingers, wheel and keys.
// Finer copies are fetched only when the picture is near enough to show their detail.

const STEP = 1.4;
const MOVE = 0.12; // of the frame, for each press of an arrow key
const MOST = 12; // screen pixels for one pixel of the photograph

export class Picture {
  constructor(root) {
    this.root = root;
    this.frame = root.querySelector(".picture-frame");
    this.sheet = root.querySelector(".picture-sheet");
    this.image = this.sheet.querySelector("img");
    this.width = Number(root.dataset.width);
    this.height = Number(root.dataset.height);
    // whichever copy is shown, it lies in the photograph's own pixels
    this.image.style.width = `${this.width}px`;
    this.image.style.height = `${this.height}px`;
    this.pointers = new Map();
    this.onChange = () => {};
    this.onTouch = null; // set to receive a place in photograph pixels instead of moving
    this.frame.classList.add("live");
    root.style.setProperty("--shape", this.width / this.height); // so that no bars stand beside it
    this.frame.style.aspectRatio = `${this.width} / ${this.height}`;
    root.querySelector(".picture-tools").hidden = false;
    this.scaleShown = root.querySelector(".picture-scale");
    this.listen();
    this.whole();
  }

  get box() {
    return this.frame.getBoundingClientRect();
  }

  get fitting() {
    const { width, height } = this.box;
    return Math.min(width / this.width, height / this.height);
  }

  whole() {
    const { width, height } = this.box;
    this.scale = this.fitting;
    this.x = (width - this.width * this.scale) / 2;
    this.y = (height - this.height * this.scale) / 2;
    this.isWhole = true;
    this.show();
  }

  nearer(by, atX = this.box.width / 2, atY = this.box.height / 2) {
    const scale = Math.min(Math.max(this.scale * by, this.fitting), MOST);
    const ratio = scale / this.scale;
    this.x = atX - (atX - this.x) * ratio;
    this.y = atY - (atY - this.y) * ratio;
    this.scale = scale;
    this.isWhole = false;
    this.show();
  }

  move(byX, byY) {
    this.x += byX;
    this.y += byY;
    this.isWhole = false;
    this.show();
  }

  // the place in photograph pixels under a place in the frame
  placeAt(frameX, frameY) {
    return { x: (frameX - this.x) / this.scale, y: (frameY - this.y) / this.scale };
  }

  holds({ x, y }) {
    return x >= 0 && y >= 0 && x <= this.width && y <= this.height;
  }

  show() {
    const { width, height } = this.box;
    const [w, h] = [this.width * this.scale, this.height * this.scale];
    // some of the picture always stays in sight
    this.x = w <= width ? Math.min(Math.max(this.x, 0), width - w) : clampTo(this.x, width, w);
    this.y = h <= height ? Math.min(Math.max(this.y, 0), height - h) : clampTo(this.y, height, h);
    this.sheet.style.transform = `translate(${this.x}px, ${this.y}px) scale(${this.scale})`;
    const percent = this.scale * 100;
    this.scaleShown.value = `${percent < 10 ? percent.toFixed(1) : Math.round(percent)} % of its pixels`;
    this.fetchFiner();
    this.onChange();
  }

  fetchFiner() {
    const needed = Math.max(this.width, this.height) * this.scale * window.devicePixelRatio;
    const wanted = needed > 3400 ? "finest" : needed > 1700 ? "finer" : null;
    if (!wanted || this.fetched === "finest" || this.fetched === wanted) return;
    this.fetched = wanted;
    const finer = new Image();
    finer.src = this.root.dataset[wanted];
    finer
      .decode()
      .then(() => {
        if (this.fetched === wanted) this.image.src = finer.src;
      })
      .catch(() => {}); // the coarser copy stays
  }

  listen() {
    const { frame } = this;
    this.root.addEventListener("click", (event) => {
      const what = event.target.closest("[data-do]")?.dataset.do;
      if (what === "nearer") this.nearer(STEP);
      else if (what === "farther") this.nearer(1 / STEP);
      else if (what === "whole") this.whole();
    });
    frame.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      const { width, height } = this.box;
      const doing = {
        ArrowLeft: () => this.move(width * MOVE, 0),
        ArrowRight: () => this.move(-width * MOVE, 0),
        ArrowUp: () => this.move(0, height * MOVE),
        ArrowDown: () => this.move(0, -height * MOVE),
        "+": () => this.nearer(STEP),
        "=": () => this.nearer(STEP),
        "-": () => this.nearer(1 / STEP),
        0: () => this.whole(),
        Enter: () => this.touchAt(width / 2, height / 2),
      }[event.key];
      if (!doing) return;
      event.preventDefault();
      doing();
    });
    frame.addEventListener(
      "wheel",
      (event) => {
        event.preventDefault();
        const { left, top } = this.box;
        this.nearer(Math.exp(-event.deltaY * 0.0016), event.clientX - left, event.clientY - top);
      },
      { passive: false },
    );
    frame.addEventListener("pointerdown", (event) => {
      if (event.button !== 0) return;
      frame.setPointerCapture(event.pointerId);
      this.pointers.set(event.pointerId, { x: event.clientX, y: event.clientY });
      this.travelled = this.pointers.size > 1 ? Infinity : 0;
      frame.classList.add("held");
    });
    frame.addEventListener("pointermove", (event) => this.dragged(event));
    for (const kind of ["pointerup", "pointercancel"]) {
      frame.addEventListener(kind, (event) => {
        if (!this.pointers.delete(event.pointerId)) return;
        if (this.pointers.size === 0) frame.classList.remove("held");
        const { left, top } = this.box;
        if (kind === "pointerup" && this.travelled < 6) {
          this.touchAt(event.clientX - left, event.clientY - top);
        }
      });
    }
    new ResizeObserver(() => (this.isWhole ? this.whole() : this.show())).observe(frame);
  }

  touchAt(frameX, frameY) {
    const place = this.placeAt(frameX, frameY);
    if (this.onTouch && this.holds(place)) this.onTouch(place);
  }

  dragged(event) {
    const before = this.pointers.get(event.pointerId);
    if (!before) return;
    const now = { x: event.clientX, y: event.clientY };
    const others = [...this.pointers].filter(([id]) => id !== event.pointerId);
    this.travelled += Math.hypot(now.x - before.x, now.y - before.y);
    this.pointers.set(event.pointerId, now);
    if (others.length === 0) {
      if (this.travelled >= 6) this.move(now.x - before.x, now.y - before.y);
      return;
    }
    const [, other] = others[0];
    const { left, top } = this.box;
    const apart = (place) => Math.max(Math.hypot(place.x - other.x, place.y - other.y), 1);
    this.move((now.x - before.x) / 2, (now.y - before.y) / 2);
    this.nearer(
      apart(now) / apart(before),
      (now.x + other.x) / 2 - left,
      (now.y + other.y) / 2 - top,
    );
  }
}

function clampTo(at, frame, sheet) {
  const kept = frame * 0.5;
  return Math.min(Math.max(at, kept - sheet), frame - kept);
}

for (const root of document.querySelectorAll("[data-picture]:not([data-picking] *)")) {
  new Picture(root);
}
