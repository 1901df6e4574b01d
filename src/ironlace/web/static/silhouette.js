// A silhouette touched on a photograph: the seat's two ends, a known height, then round the machine.
// What is sent is the table of touches, which can also be filled in by figures.

import { Picture } from "./picture.js";

const SVG = "http://www.w3.org/2000/svg";
const HEAD = "what,x_px,y_px";
const WANTED = { seat: 2, height: 2 };
const SAYS = {
  seat: ["The left end of the seat is set.", "Both ends of the seat are set."],
  height: ["The foot of the height is set.", "The height is set."],
};

for (const section of document.querySelectorAll(".silhouette")) {
  const root = section.querySelector("[data-picture]");
  if (root) start(section, new Picture(root));
}

function start(section, picture) {
  const table = section.querySelector("[data-touches]");
  const choices = section.querySelector(".picking");
  const told = section.querySelector("[data-told]");
  const marks = document.createElementNS(SVG, "svg");
  marks.setAttribute("class", "picture-marks thread-marks");
  marks.setAttribute("aria-hidden", "true");
  const cross = document.createElement("span");
  cross.className = "picture-cross";
  picture.frame.append(marks, cross);
  choices.hidden = false;

  const rows = () => table.value.split("\n").map((line) => line.split(",")).filter((cells) => cells.length === 3 && Number.isFinite(Number(cells[1])) && cells[1].trim() !== "");
  const write = (all) => { table.value = [HEAD, ...all.map((cells) => cells.join(","))].join("\n"); draw(); };
  const chosen = () => choices.querySelector("input:checked");

  function touched({ x, y }) {
    const what = chosen().value;
    const same = rows().filter((cells) => cells[0] === what);
    // a third touch of a pair begins it anew
    const kept = WANTED[what] && same.length >= WANTED[what] ? rows().filter((cells) => cells[0] !== what) : rows();
    write([...kept, [what, x.toFixed(1), y.toFixed(1)]]);
    const count = rows().filter((cells) => cells[0] === what).length;
    told.textContent = what === "round" ? `${count} places round the machine.` : SAYS[what][count - 1];
    if (WANTED[what] === count) {
      const order = ["seat", "height", "round"];
      choices.querySelector(`input[value="${order[order.indexOf(what) + 1]}"]`).checked = true;
      attend();
    }
  }

  function attend() {
    const what = chosen().value;
    picture.onTouch = what ? touched : null;
    picture.frame.classList.toggle("picks", Boolean(what));
    cross.hidden = !what;
  }

  function shape(name, look, attributes) {
    const sign = document.createElementNS(SVG, name);
    sign.setAttribute("class", look);
    for (const [key, value] of Object.entries(attributes)) sign.setAttribute(key, String(value));
    marks.append(sign);
  }

  function draw() {
    marks.replaceChildren();
    const at = (what) => rows().filter((cells) => cells[0] === what).map((cells) => [Number(cells[1]) * picture.scale + picture.x, Number(cells[2]) * picture.scale + picture.y]);
    const ring = at("round");
    if (ring.length > 1) for (const look of ["thread-halo", "thread-line"]) shape("path", look, { d: `M${ring.join("L")}${ring.length > 2 ? "Z" : ""}` });
    for (const [x, y] of ring) shape("circle", "thread-place", { cx: x, cy: y, r: 4 });
    for (const what of ["seat", "height"]) {
      const ends = at(what);
      if (ends.length === 2) for (const look of ["thread-halo", "thread-line"]) shape("path", look, { d: `M${ends.join("L")}`, "stroke-dasharray": look === "thread-line" ? "7 4" : "" });
      for (const [x, y] of ends) shape("path", "thread-place", { d: what === "seat" ? `M${x} ${y - 8}L${x + 8} ${y + 7}H${x - 8}Z` : `M${x - 7} ${y - 7}h14v14h-14Z` });
    }
  }

  choices.addEventListener("change", attend);
  section.querySelector("[data-last]").addEventListener("click", () => { write(rows().slice(0, -1)); told.textContent = "The last touch is taken away."; });
  table.addEventListener("input", draw);
  picture.onChange = draw;
  attend();
  draw();
}
