// Bridges on a sheet: chosen, moved along their outline by pointer or keys, kept, pinned, forbidden.
// The bench plans; the answer is the page itself, of which the plan's part is put in place.

const PX_PER_MM = 96 / 25.4;
const TRUE_KEY = "ironlace-bar-measures";
const SVG = "http://www.w3.org/2000/svg";
const STEP = 1.4;
const MOST = 12;
const TO_SEE = 2.5; // times its size a bridge is shown at least, when it is gone to by name

class Plan {
  constructor(root) {
    this.zoom = 1;
    this.isWhole = true;
    this.chosen = null;
    this.take(root);
  }

  // also called with the new plan after a change
  take(root) {
    this.root = root;
    this.view = root.querySelector("[data-view]");
    this.svg = root.querySelector(".sheet-plan");
    this.said = root.querySelector("[data-said]");
    this.places = null;
    this.at = -1;
    root.querySelector("[data-tools]").hidden = false;
    const measured = root.querySelector("[data-measured]");
    measured.hidden = false;
    this.bar = measured.querySelector("input");
    this.bar.value = localStorage.getItem(TRUE_KEY) ?? "";
    this.bar.addEventListener("change", () => {
      localStorage.setItem(TRUE_KEY, this.bar.value);
      this.resize();
    });
    root.addEventListener("click", (event) => this.clicked(event));
    root.addEventListener("submit", (event) => this.submitted(event));
    this.view.addEventListener("keydown", (event) => this.pressed(event));
    this.svg.addEventListener("pointerdown", (event) => this.held(event));
    this.svg.addEventListener("pointermove", (event) => this.drawn(event));
    this.svg.addEventListener("pointerup", (event) => this.let(event));
    this.svg.addEventListener("pointercancel", () => this.putBack());
    this.watching?.disconnect();
    this.watching = new ResizeObserver(() => (this.isWhole ? this.whole() : this.resize()));
    this.watching.observe(this.view);
    if (this.isWhole) this.whole();
    else this.resize();
  }

  get bridges() {
    return [...this.svg.querySelectorAll("[data-bridge]")];
  }

  // screen pixels for a millimetre that is true on this screen, if the bar was measured
  get truth() {
    const told = Number(this.bar.value.replace(",", "."));
    return told > 5 && told < 500 ? (PX_PER_MM * 50) / told : PX_PER_MM;
  }

  resize() {
    const width = Number(this.svg.dataset.width) * this.truth * this.zoom;
    const height = Number(this.svg.dataset.height) * this.truth * this.zoom;
    this.svg.setAttribute("width", width);
    this.svg.setAttribute("height", height);
    this.root.querySelector("[data-scale]").value = `${Math.round(this.zoom * 100)} % of its size`;
  }

  // as large as it is all in sight
  whole() {
    const { clientWidth, clientHeight } = this.view;
    const [width, height] = [Number(this.svg.dataset.width), Number(this.svg.dataset.height)];
    const fits = Math.min(clientWidth / width, clientHeight / height) / this.truth;
    this.zoom = Math.min(Math.max(fits, 0.1), MOST);
    this.isWhole = true;
    this.resize();
  }

  nearer(by) {
    const { view } = this;
    const before = this.zoom;
    this.isWhole = false;
    this.zoom = Math.min(Math.max(before * by, 0.1), MOST);
    const ratio = this.zoom / before;
    const [x, y] = [
      (view.scrollLeft + view.clientWidth / 2) * ratio,
      (view.scrollTop + view.clientHeight / 2) * ratio,
    ];
    this.resize();
    view.scrollTo(x - view.clientWidth / 2, y - view.clientHeight / 2);
  }

  tell(words) {
    this.said.textContent = words;
  }

  choose(bridge, { look = true } = {}) {
    if (bridge === this.chosen) return;
    this.putBack();
    this.chosen?.classList.remove("chosen");
    this.chosen = bridge;
    this.places = null;
    if (!bridge) return;
    bridge.classList.add("chosen");
    if (look) this.lookAt(bridge);
    const pinned = bridge.classList.contains("pinned") ? ", pinned" : "";
    const area = Number(bridge.dataset.area).toFixed(2);
    this.tell(`Bridge ${bridge.dataset.bridge} of ${this.bridges.length}: ${area} mm²${pinned}.`);
  }

  // brings a bridge to the middle, large enough to be seen
  lookAt(bridge) {
    if (this.zoom < TO_SEE) this.nearer(TO_SEE / this.zoom);
    const frame = this.view.getBoundingClientRect();
    const { left, top, width, height } = bridge.getBoundingClientRect();
    const [x, y] = [left + width / 2 - frame.left, top + height / 2 - frame.top];
    this.view.scrollBy(x - frame.width / 2, y - frame.height / 2);
  }

  // only if it has gone out of sight
  follow(bridge) {
    const frame = this.view.getBoundingClientRect();
    const { left, top, width, height } = bridge.getBoundingClientRect();
    const [x, y] = [left + width / 2 - frame.left, top + height / 2 - frame.top];
    if (x < 20 || y < 20 || x > frame.width - 20 || y > frame.height - 20) this.lookAt(bridge);
  }

  step(by) {
    const { bridges } = this;
    if (!bridges.length) return;
    const now = bridges.indexOf(this.chosen);
    this.choose(bridges[(now + by + bridges.length) % bridges.length]);
  }

  // where the chosen bridge could stand, in order along its island's outline
  async fetchPlaces() {
    const bridge = this.chosen;
    if (!bridge || this.places) return;
    const url = new URL(this.root.dataset.places, location.href);
    url.searchParams.set("line", bridge.dataset.line);
    try {
      const response = await fetch(url, { headers: { accept: "application/json" } });
      const told = (await response.json()).places ?? [];
      if (bridge !== this.chosen) return;
      this.places = told.map((place) => ({ ...place, middle: middle(place.line) }));
      this.at = this.nearest(middle(numbers(bridge.dataset.line)));
    } catch {
      this.tell("The bench does not answer: is it still running?");
    }
  }

  nearest({ x, y }) {
    let best = -1;
    let least = Infinity;
    for (const [index, place] of (this.places ?? []).entries()) {
      const away = Math.hypot(place.middle.x - x, place.middle.y - y);
      if (away < least) [best, least] = [index, away];
    }
    return best;
  }

  async along(by) {
    if (!this.chosen) this.step(1);
    await this.fetchPlaces();
    if (!this.places?.length) {
      this.tell("This bridge has no other place to stand.");
      return;
    }
    this.show((this.at + by + this.places.length) % this.places.length);
  }

  // draws the bridge where it would stand; nothing is kept yet
  show(index) {
    if (index < 0) return;
    this.at = index;
    const { line, area_mm2: area } = this.places[index];
    if (!this.ghost?.isConnected) {
      this.ghost = document.createElementNS(SVG, "line");
      this.ghost.setAttribute("class", "bridge-ghost");
      this.chosen.parentNode.append(this.ghost);
    }
    for (const [n, name] of ["x1", "y1", "x2", "y2"].entries()) {
      this.ghost.setAttribute(name, line[n]);
    }
    const width = this.chosen.querySelector(".bridge-line").getAttribute("stroke-width");
    this.ghost.setAttribute("stroke-width", width);
    this.chosen.classList.add("leaving");
    this.follow(this.ghost);
    this.tell(`Would take ${area.toFixed(2)} mm² here. Enter keeps it, Escape lets it be.`);
  }

  putBack() {
    this.ghost?.remove();
    this.ghost = null;
    this.dragging = null;
    this.chosen?.classList.remove("leaving");
  }

  keepHere() {
    if (!this.chosen || !this.ghost) {
      this.tell("Move a bridge first.");
      return;
    }
    const place = this.places[this.at].line;
    this.change({ do: "move", bridge: this.chosen.dataset.line, place: place.join(",") }, place);
  }

  clicked(event) {
    const what = event.target.closest("[data-do]")?.dataset.do;
    const doing = {
      previous: () => this.step(-1),
      next: () => this.step(1),
      back: () => this.along(-1),
      along: () => this.along(1),
      keep: () => this.keepHere(),
      lock: () => this.onChosen("lock"),
      forbid: () => this.onChosen("forbid"),
      nearer: () => this.nearer(STEP),
      farther: () => this.nearer(1 / STEP),
      whole: () => this.whole(),
      true: () => this.nearer(1 / this.zoom),
    }[what];
    if (doing) doing();
  }

  onChosen(what) {
    if (!this.chosen) this.tell("Choose a bridge first.");
    else this.change({ do: what, bridge: this.chosen.dataset.line });
  }

  pressed(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const doing = {
      ArrowLeft: () => this.along(-1),
      ArrowRight: () => this.along(1),
      ArrowUp: () => this.step(-1),
      ArrowDown: () => this.step(1),
      Enter: () => this.keepHere(),
      p: () => this.onChosen("lock"),
      P: () => this.onChosen("lock"),
      l: () => this.onChosen("lock"), // as earlier versions had it
      L: () => this.onChosen("lock"),
      Delete: () => this.onChosen("forbid"),
      Escape: () => this.putBack(),
      "+": () => this.nearer(STEP),
      "=": () => this.nearer(STEP),
      "-": () => this.nearer(1 / STEP),
      0: () => this.whole(),
      t: () => this.nearer(1 / this.zoom),
    }[event.key];
    if (!doing) return;
    event.preventDefault();
    doing();
  }

  placeOf(event) {
    const matrix = this.svg.getScreenCTM().inverse();
    const { x, y } = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix);
    const flip = this.svg.dataset.flip;
    return { x: flip ? Number(flip) - x : x, y };
  }

  held(event) {
    if (event.button !== 0) return;
    if (this.root.querySelector('[data-do="touch"]').checked) {
      const { x, y } = this.placeOf(event);
      this.change({ do: "forbid-place", x: x.toFixed(3), y: y.toFixed(3), radius: "2" });
      return;
    }
    const bridge = event.target.closest("[data-bridge]");
    if (!bridge) return;
    event.preventDefault();
    this.view.focus({ preventScroll: true });
    this.choose(bridge, { look: false });
    this.svg.setPointerCapture(event.pointerId);
    this.dragging = { moved: false, from: this.placeOf(event) };
    this.fetchPlaces();
  }

  drawn(event) {
    if (!this.dragging) return;
    const here = this.placeOf(event);
    const { from } = this.dragging;
    if (Math.hypot(here.x - from.x, here.y - from.y) > 0.5) this.dragging.moved = true;
    if (!this.dragging.moved || !this.places) return;
    const best = this.nearest(here);
    if (best >= 0 && (best !== this.at || !this.ghost)) this.show(best);
  }

  let() {
    if (!this.dragging) return;
    const { moved } = this.dragging;
    this.dragging = null;
    if (moved && this.ghost) this.keepHere();
  }

  submitted(event) {
    const form = event.target.closest("form[data-edit]");
    if (!form) return;
    event.preventDefault();
    this.change(Object.fromEntries(new FormData(form)), null, document.activeElement?.ariaLabel);
  }

  // sends one change and puts the plan that comes back in the place of this one
  change(fields, near = null, label = null) {
    if (this.busy) return;
    this.busy = true;
    this.root.setAttribute("aria-busy", "true");
    this.tell("Planning…");
    const began = performance.now();
    const body = new URLSearchParams(fields);
    const form = this.root.querySelector("form[data-edit]");
    const token = document.querySelector('meta[name="ironlace-token"]').content;
    body.set("token", token);
    const request = new XMLHttpRequest();
    request.open("POST", form.action);
    request.responseType = "document";
    const ended = (says) => {
      this.busy = false;
      this.root.removeAttribute("aria-busy");
      this.putBack();
      this.tell(says);
    };
    request.addEventListener("error", () =>
      ended("The bench does not answer: is it still running?"),
    );
    request.addEventListener("load", () => {
      const fresh = request.response?.querySelector("[data-plan]");
      if (request.status >= 400 || !fresh) {
        if (request.status < 400 && request.responseURL) {
          location.assign(request.responseURL); // a long plan: the page that follows it
          return;
        }
        const fault = request.response?.querySelector(".fault, .lead")?.textContent.trim();
        ended(fault || "That could not be done.");
        return;
      }
      this.replace(document.importNode(fresh, true), near ?? numbers(fields.bridge), label);
      const seconds = (performance.now() - began) / 1000;
      this.tell(`Planned again in ${seconds.toFixed(1)} s. ${this.said.textContent}`);
    });
    request.send(body);
  }

  replace(fresh, near, label) {
    const { scrollLeft, scrollTop } = this.view;
    const inView = this.view.contains(document.activeElement) || this.view === document.activeElement;
    const opened = [...this.root.querySelectorAll("details")].map((d) => d.open);
    const ticked = this.root.querySelector('[data-do="touch"]').checked;
    const doing = document.activeElement?.dataset?.do;
    this.busy = false;
    this.chosen = null;
    this.root.replaceWith(fresh);
    this.take(fresh);
    for (const [n, d] of [...fresh.querySelectorAll("details")].entries()) d.open = opened[n] ?? d.open;
    fresh.querySelector('[data-do="touch"]').checked = ticked;
    this.view.scrollTo(scrollLeft, scrollTop);
    if (near?.length === 4) {
      const { x, y } = middle(near);
      const away = (b) => {
        const at = middle(numbers(b.dataset.line));
        return Math.hypot(at.x - x, at.y - y);
      };
      const [first] = this.bridges.sort((a, b) => away(a) - away(b));
      if (first && away(first) < 1) this.choose(first, { look: false });
    }
    if (inView) this.view.focus({ preventScroll: true });
    else if (doing) fresh.querySelector(`[data-do="${doing}"]`)?.focus({ preventScroll: true });
    else if (label) {
      const same = [...fresh.querySelectorAll("button")].find((b) => b.ariaLabel === label);
      (same ?? this.view).focus({ preventScroll: true });
    }
  }
}

function numbers(text) {
  return (text ?? "").split(",").map(Number);
}

function middle([ax, ay, bx, by]) {
  return { x: (ax + bx) / 2, y: (ay + by) / 2 };
}

const root = document.querySelector("[data-plan]");
if (root) new Plan(root);
