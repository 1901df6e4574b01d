// The outline found on a photograph, mended by hand: a node takes its neighbourhood along, and the
// server says what the outline then is in mm. Two squares measure between them.

const SVG = "http://www.w3.org/2000/svg";
const NODES = 36;
const STEP = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const root = document.querySelector("[data-nodes]");
if (root) start(JSON.parse(root.dataset.nodes));

function start({ ring, wide, high }) {
  const tools = document.querySelector("[data-nodes-tools]");
  const told = tools.querySelector("[data-nodes-told]");
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("viewBox", `0 0 ${wide} ${high}`);
  const unit = wide / 900; // signs as large as on a picture 900 wide
  const looks = ["comb-under", "comb-line"].map((look) => {
    const path = document.createElementNS(SVG, "path");
    path.setAttribute("class", look);
    svg.append(path);
    return path;
  });
  const every = ring.length / Math.min(NODES, ring.length);
  let asked = 0;

  // the nearer to the node, the more a place of the ring goes along with it
  function node(n) {
    const at = Math.round(n * every);
    const reach = Math.ceil(every);
    return {
      words: `Node ${n + 1} of the outline`,
      look: "node",
      get: () => ring[at],
      move(byX, byY) {
        for (let k = -reach; k <= reach; k += 1) {
          const one = ring[(at + k + ring.length) % ring.length];
          const share = 1 - Math.abs(k) / (reach + 1);
          one[0] += share * byX;
          one[1] += share * byY;
        }
      },
    };
  }

  const furthest = (sign) => [...ring.reduce((best, one) => (sign * one[0] > sign * best[0] ? one : best))];
  const ends = [furthest(-1), furthest(1)].map((place, n) => ({
    words: `End ${n + 1} of what is measured`,
    look: "node-end",
    get: () => place,
    move(byX, byY) {
      place[0] += byX;
      place[1] += byY;
      measure();
    },
  }));
  const line = document.createElementNS(SVG, "path");
  line.setAttribute("class", "node-measure");
  svg.append(line);
  const signs = [...Array(Math.min(NODES, ring.length)).keys()].map(node).concat(ends).map((one) => {
    const sign = document.createElementNS(SVG, one.look === "node" ? "circle" : "rect");
    for (const [key, value] of Object.entries({ class: one.look, tabindex: 0, role: "button", "aria-label": `${one.words}: arrow keys move it` })) sign.setAttribute(key, String(value));
    sign.addEventListener("keydown", (event) => {
      const by = STEP[event.key];
      if (!by) return;
      event.preventDefault();
      const far = event.shiftKey ? 10 : 1;
      moved(one, far * by[0], far * by[1]);
    });
    sign.addEventListener("pointerdown", (event) => {
      event.preventDefault();
      sign.focus();
      sign.setPointerCapture(event.pointerId);
    });
    sign.addEventListener("pointermove", (event) => {
      if (!sign.hasPointerCapture(event.pointerId)) return;
      const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
      const [x, y] = one.get();
      moved(one, at.x - x, at.y - y);
    });
    svg.append(sign);
    return { one, sign };
  });

  function moved(one, byX, byY) {
    one.move(byX, byY);
    draw();
  }

  function draw() {
    const d = `M${ring.map(([x, y]) => `${x.toFixed(1)} ${y.toFixed(1)}`).join("L")}Z`;
    for (const path of looks) path.setAttribute("d", d);
    line.setAttribute("d", `M${ends.map((one) => one.get().join(" ")).join("L")}`);
    for (const { one, sign } of signs) {
      const [x, y] = one.get();
      const r = 5 * unit;
      const place = one.look === "node" ? { cx: x, cy: y, r } : { x: x - r, y: y - r, width: 2 * r, height: 2 * r };
      for (const [key, value] of Object.entries(place)) sign.setAttribute(key, value.toFixed(2));
    }
  }

  async function ask(sent) {
    try {
      const answer = await fetch(root.dataset.mends, {
        method: "POST",
        headers: { "content-type": "application/json", accept: "application/json", "x-ironlace-token": document.querySelector('meta[name="ironlace-token"]').content },
        body: JSON.stringify(sent),
      });
      const said = await answer.json().catch(() => ({}));
      return answer.ok ? said : { refused: said.error?.says ?? "That outline cannot be: move it back." };
    } catch {
      return { refused: "The bench does not answer: is it still running?" };
    }
  }

  async function measure() {
    asked += 1;
    const mine = asked;
    const said = await ask({ px: ends.map((one) => one.get()), measure: true });
    if (mine === asked) told.textContent = said.refused ?? `${said.mm.toFixed(2)} mm between the squares, on the rim`;
  }

  async function take(mirror) {
    const said = await ask({ px: ring, mirror });
    if (said.refused) {
      told.textContent = said.refused;
      return;
    }
    document.querySelector("#f-outline").value = said.outline;
    document.querySelector("#base button[value=work]").click();
  }

  tools.querySelector("[data-nodes-take]").addEventListener("click", () => take(false));
  tools.querySelector("[data-nodes-mirror]").addEventListener("click", () => take(true));
  root.append(svg);
  tools.hidden = false;
  draw();
  measure();
}
