// A base moved by hand: the server works every move out and says how each outline now runs; this
// only carries the hand's figures there, and turns works and crank to the wheel's angle.

const SVG = "http://www.w3.org/2000/svg";
const STEP = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
const root = document.querySelector("[data-moves]");
if (root) start();

function start() {
  const turning = JSON.parse(root.dataset.turning);
  const plan = root.querySelector('[data-view="plan"]');
  const brief = root.querySelector("[data-brief]");
  const slider = (name) => root.querySelector(`[data-slides="${name}"]`);
  const feet = [...root.querySelectorAll("[data-foot]")].map((sign, n) => {
    const { e, f } = sign.transform.baseVal.consolidate().matrix;
    sign.setAttribute("tabindex", "0");
    sign.setAttribute("role", "button");
    sign.setAttribute("aria-label", `Foot ${n + 1}: arrow keys move it`);
    return { sign, x: e, y: -f };
  });
  let asking = false;
  let again = false;
  let height = NaN;
  for (const one of root.querySelectorAll("[data-needs-script]")) one.hidden = false;

  const inWords = () => ["x_mm,y_mm", ...feet.map(({ x, y }) => `${x.toFixed(1)},${y.toFixed(1)}`)].join("\n");

  // one question at a time: what moved meanwhile is asked when the answer is there
  async function ask() {
    if (asking) {
      again = true;
      return;
    }
    asking = true;
    again = false;
    const sent = { overhang: slider("overhang").value, below: slider("below").value, feet: inWords() };
    try {
      const answer = await fetch(`${root.dataset.moves}?${new URLSearchParams(sent)}`, { headers: { accept: "application/json" } });
      const told = await answer.json().catch(() => ({}));
      if (answer.ok) show(told, sent);
      else brief.textContent = told.error?.says ?? "This base is no longer at hand: work it out again.";
    } catch {
      brief.textContent = "The bench does not answer: is it still running?";
    }
    asking = false;
    if (again) ask();
  }

  function show(told, sent) {
    for (const [name, d] of Object.entries(told.outlines)) {
      root.querySelector(`[data-outline="${name}"]`)?.setAttribute("d", d);
    }
    height = told.height;
    brief.textContent = told.brief;
    root.querySelector("[data-leans]").replaceChildren(
      ...told.leans.map((cells) => {
        const row = document.createElement("tr");
        row.append(...cells.map((words) => Object.assign(document.createElement("td"), { textContent: words })));
        return row;
      }),
    );
    for (const [name, value] of Object.entries(sent)) document.querySelector(`#f-${name}`).value = value;
    turn();
  }

  function shows(name) {
    root.querySelector(`[data-shows="${name}"]`).textContent = slider(name).value;
  }

  function place(foot, x, y) {
    const box = plan.viewBox.baseVal;
    foot.x = Math.min(Math.max(x, box.x + 9), box.x + box.width - 9);
    foot.y = Math.min(Math.max(y, -box.y - box.height + 9), -box.y - 9);
    foot.sign.setAttribute("transform", `translate(${foot.x} ${-foot.y})`);
    ask();
  }

  for (const foot of feet) {
    foot.sign.addEventListener("keydown", (event) => {
      const by = STEP[event.key];
      if (!by) return;
      event.preventDefault();
      const far = event.shiftKey ? 10 : 1;
      place(foot, foot.x + far * by[0], foot.y + far * by[1]);
    });
    foot.sign.addEventListener("pointerdown", (event) => {
      event.preventDefault();
      foot.sign.focus();
      foot.sign.setPointerCapture(event.pointerId);
    });
    foot.sign.addEventListener("pointermove", (event) => {
      if (!foot.sign.hasPointerCapture(event.pointerId)) return;
      const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(plan.getScreenCTM().inverse());
      place(foot, at.x, -at.y);
    });
  }

  // where everything stands at the wheel's angle: between two places that the server gave
  function turn() {
    const angle = Number(slider("wheel").value);
    for (const [axis, view] of ["front", "side"].entries()) {
      const group = root.querySelector(`[data-turns="${view}"]`);
      group.replaceChildren();
      for (const { places } of turning.works) {
        const at = (angle / 360) * places.length;
        const [one, next] = [places[Math.floor(at)], places[(Math.floor(at) + 1) % places.length]];
        const [x, z] = [axis, 2].map((n) => one[n] + (at % 1) * (next[n] - one[n]));
        sign(group, "base-dot", x, z + height, 4);
      }
      const crank = turning.crank;
      if (!crank) continue;
      const [around, up] = [Math.sin((angle * Math.PI) / 180), Math.cos((angle * Math.PI) / 180)];
      const x = view === "front" ? crank.x : crank.y + crank.away * crank.radius * around;
      const z = crank.z + height + crank.radius * up;
      const axle = view === "front" ? crank.x : crank.y;
      const arm = document.createElementNS(SVG, "path");
      arm.setAttribute("class", "base-arm");
      arm.setAttribute("d", `M${axle} ${-(crank.z + height)}L${x} ${-z}`);
      group.append(arm);
      sign(group, "base-handle", x, z, crank.handle);
    }
  }

  function sign(group, look, x, z, r) {
    const circle = document.createElementNS(SVG, "circle");
    for (const [key, value] of Object.entries({ class: look, cx: x, cy: -z, r })) circle.setAttribute(key, String(value));
    group.append(circle);
  }

  for (const name of ["overhang", "below"]) {
    slider(name).addEventListener("input", () => {
      shows(name);
      ask();
    });
  }
  slider("wheel").addEventListener("input", () => {
    shows("wheel");
    turn();
  });
  height = Number(root.dataset.height);
  turn();
}
