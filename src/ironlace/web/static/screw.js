// The photograph of a screw, to look closely at; and a comb to lay by hand on the screw that was
// read: its pitch goes into the form, where it is graded as seen.

import { Picture } from "./picture.js";

const SVG = "http://www.w3.org/2000/svg";
const REACH = 0.12; // of the pitch found: so far the slider goes either way
const photograph = document.querySelector("[data-picture]");
if (photograph) new Picture(photograph);
const root = document.querySelector("[data-comb]");
if (root) start(JSON.parse(root.dataset.comb));

function start(found) {
  const tools = document.querySelector("[data-comb-tools]");
  const [stretch, shift] = ["pitch", "shift"].map((name) => tools.querySelector(`[data-comb-${name}]`));
  const shows = tools.querySelector("[data-comb-shows]");
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("viewBox", found.box.join(" "));
  svg.setAttribute("preserveAspectRatio", "none");
  svg.setAttribute("aria-hidden", "true");
  const looks = ["comb-under", "comb-line"].map((look) => {
    const path = document.createElementNS(SVG, "path");
    path.setAttribute("class", look);
    svg.append(path);
    return path;
  });
  root.append(svg);
  set(stretch, found.pitch * (1 - REACH), found.pitch * (1 + REACH), found.pitch / 4000, found.pitch);
  set(shift, -found.pitch / 2, found.pitch / 2, found.pitch / 100, 0);
  tools.hidden = false;

  function set(slider, min, max, step, value) {
    Object.assign(slider, { min: String(min), max: String(max), step: String(step) });
    slider.value = String(value);
  }

  const pitch = () => Number(stretch.value);
  const first = () => found.firsts[0] + Number(shift.value);

  function draw() {
    const teeth = [];
    found.firsts.forEach((at, n) => {
      const side = n ? -1 : 1;
      const begins = first() + ((at - found.firsts[0]) * pitch()) / found.pitch;
      for (let x = begins; x <= found.to + pitch() / 2; x += pitch()) {
        teeth.push(`M${x.toFixed(4)} ${side * found.tooth[0]}v${side * found.tooth[1]}`);
      }
    });
    for (const path of looks) path.setAttribute("d", teeth.join(""));
    shows.textContent = (pitch() * found.per_mm).toFixed(4);
  }

  for (const slider of [stretch, shift]) slider.addEventListener("input", draw);
  let held = null;
  const along = (event) => new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse()).x;
  svg.addEventListener("pointerdown", (event) => {
    svg.setPointerCapture(event.pointerId);
    held = { x: along(event), pitch: pitch(), shift: Number(shift.value), first: first() };
    held.shifts = held.x - held.first < 2 * held.pitch;
  });
  svg.addEventListener("pointermove", (event) => {
    if (!held || !svg.hasPointerCapture(event.pointerId)) return;
    const x = along(event);
    if (held.shifts) shift.value = String(held.shift + x - held.x);
    else stretch.value = String((held.pitch * (x - held.first)) / (held.x - held.first));
    draw();
  });
  svg.addEventListener("pointerup", () => { held = null; });
  tools.querySelector("[data-comb-take]").addEventListener("click", () => {
    document.querySelector("#f-comb").value = (pitch() * found.per_mm).toFixed(4);
    document.querySelector("#screw button[value=work]").click();
  });
  draw();
}
