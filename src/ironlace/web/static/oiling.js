// An oiling plan touched on a photograph: each touch is a place, with a row of words beside the
// picture and a shape by what takes the oil. The rows are what is sent; they also fill in by figures.

import { Picture } from "./picture.js";

const SVG = "http://www.w3.org/2000/svg";
const SHAPES = {
  cup: "M-10 -10H10V10H-10Z",
  felt: "M0 -14L13 10H-13Z",
  face: "M0 -14L14 0L0 14L-14 0Z",
  hole: "M-11 0A11 11 0 1 1 11 0A11 11 0 1 1 -11 0Z",
  "": "M-8 -8L8 8M8 -8L-8 8",
};
const root = document.querySelector("[data-picking]");
const picture = new Picture(root.querySelector("[data-picture]"));
const list = document.querySelector("[data-points]");
const blank = document.querySelector("[data-blank]");
const told = document.querySelector("[data-told]");
const choices = root.querySelector(".picking");
let chosen = null; // the row whose place a touch moves

choices.hidden = false;
const marks = document.createElementNS(SVG, "svg");
marks.setAttribute("class", "picture-marks thread-marks");
marks.setAttribute("aria-hidden", "true");
const cross = document.createElement("span");
cross.className = "picture-cross";
picture.frame.append(marks, cross);
const rows = () => [...list.querySelectorAll("[data-point]")];
const field = (row, name) => row.querySelector(`[name="${name}"]`);

function touched({ x, y }) {
  const moving = choices.querySelector("input:checked").value === "move";
  const row = moving && chosen ? chosen : added();
  field(row, "x_px").value = x.toFixed(1);
  field(row, "y_px").value = y.toFixed(1);
  row.querySelector("[data-where]").textContent = "on the picture";
  choose(row);
  const number = rows().indexOf(row) + 1;
  told.textContent = moving ? `Place ${number} moved.` : `Place ${number} set: say where it is.`;
  if (!moving) field(row, "place").focus();
}

function added() {
  const row = blank.content.firstElementChild.cloneNode(true);
  list.append(row);
  numbered();
  row.querySelector(".thread-moves").hidden = false;
  return row;
}

function numbered() {
  rows().forEach((row, n) => {
    row.id = `p-${n + 1}`;
    row.querySelector("[data-number]").textContent = String(n + 1);
  });
  draw();
}

function choose(row) {
  chosen?.classList.remove("chosen");
  chosen = row;
  chosen?.classList.add("chosen");
  draw();
}

list.addEventListener("focusin", (event) => {
  const row = event.target.closest("[data-point]");
  if (row && row !== chosen) choose(row);
});
list.addEventListener("input", draw);
list.addEventListener("click", (event) => {
  const move = event.target.dataset?.move;
  if (!move) return;
  const row = event.target.closest("[data-point]");
  const at = rows().indexOf(row) + 1;
  if (move === "earlier" && row.previousElementSibling) row.previousElementSibling.before(row);
  else if (move === "later" && row.nextElementSibling) row.nextElementSibling.after(row);
  else if (move === "away") {
    const next = row.nextElementSibling ?? row.previousElementSibling;
    row.remove();
    choose(next);
    (next ?? picture.frame).focus();
    told.textContent = `Place ${at} taken away.`;
  }
  numbered();
  if (move !== "away") {
    event.target.focus();
    told.textContent = `Now place ${rows().indexOf(row) + 1}.`;
  }
});
choices.addEventListener("change", attend);
picture.onChange = draw;

function attend() {
  const what = choices.querySelector("input:checked").value;
  picture.onTouch = what ? touched : null;
  picture.frame.classList.toggle("picks", Boolean(what));
  cross.hidden = !what;
}

function placeOf(row) {
  const [x, y] = ["x_px", "y_px"].map((name) => {
    const typed = field(row, name).value.trim();
    return typed ? Number(typed.replace(",", ".")) : NaN;
  });
  if (!Number.isFinite(x) || !Number.isFinite(y)) return null;
  return [x * picture.scale + picture.x, y * picture.scale + picture.y];
}

function draw() {
  marks.replaceChildren();
  rows().forEach((row, n) => {
    const at = placeOf(row);
    if (!at) return;
    const d = SHAPES[field(row, "kind").value] ?? SHAPES[""];
    const transform = `translate(${at[0]} ${at[1]})`;
    shape("path", "thread-halo", { d, transform });
    shape("path", `thread-place${row === chosen ? " chosen" : ""}`, { d, transform });
    const [x, y] = [at[0] + 24, at[1] - 18]; // a leader, so that shape and number stay apart
    shape("path", "thread-line", { d: `M${at[0] + 8} ${at[1] - 6}L${x - 8} ${y + 6}` });
    shape("circle", "thread-place", { cx: x, cy: y, r: 11 });
    shape("text", "thread-number", { x, y: y + 5 }).textContent = String(n + 1);
  });
}

function shape(name, look, attributes) {
  const sign = document.createElementNS(SVG, name);
  sign.setAttribute("class", look);
  for (const [key, value] of Object.entries(attributes)) sign.setAttribute(key, String(value));
  marks.append(sign);
  return sign;
}

for (const row of rows()) row.querySelector(".thread-moves").hidden = false;
document.querySelector("[data-another]").closest("p").hidden = true;
attend();
numbered();
