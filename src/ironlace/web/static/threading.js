// A threading plan touched on a photograph: each touch is a point, with a row of words beside the
// picture. The rows are what is sent; without this script they can be filled in by figures.

import { Picture } from "./picture.js";

const SVG = "http://www.w3.org/2000/svg";
const root = document.querySelector("[data-picking]");
const picture = new Picture(root.querySelector("[data-picture]"));
const shown = root.dataset.shown;
const list = document.querySelector("[data-points]");
const blank = document.querySelector("[data-blank]");
const told = document.querySelector("[data-told]");
const choices = root.querySelector(".picking");
let chosen = null; // the row whose point a touch moves

const sidesOf = JSON.parse(list.dataset.sides); // by what the thread does

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
  field(row, "photograph").value = shown;
  row.querySelector("[data-where]").textContent = shown;
  choose(row);
  const number = rows().indexOf(row) + 1;
  told.textContent = moving ? `Point ${number} moved.` : `Point ${number} set: say what the thread does there.`;
  if (!moving) field(row, "does").focus();
}

function added() {
  const row = blank.content.firstElementChild.cloneNode(true);
  const last = rows().at(-1);
  if (last) field(row, "thread").value = field(last, "thread").value; // the same thread goes on
  list.append(row);
  numbered();
  ready(row);
  return row;
}

function numbered() {
  rows().forEach((row, n) => {
    row.id = `p-${n + 1}`;
    row.querySelector("[data-number]").textContent = String(n + 1);
  });
  draw();
}

function ready(row) {
  row.querySelector(".thread-moves").hidden = false;
  sides(row);
}

// only the sides that the deed can have are offered
function sides(row) {
  const does = field(row, "does").value;
  const side = field(row, "side");
  const fit = (sidesOf[does] ?? sidesOf.slot).split(" "); // until it is said, what most have
  for (const one of side.options) one.hidden = one.disabled = Boolean(one.value) && !fit.includes(one.value);
  if (side.value && !fit.includes(side.value)) side.value = "";
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
list.addEventListener("input", (event) => {
  const row = event.target.closest("[data-point]");
  if (event.target.name === "does") {
    sides(row);
    const begins = { bobbin: "shuttle", spool: "needle" }[event.target.value];
    if (begins) field(row, "thread").value = begins;
  }
  draw();
});
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
    (next ? next : picture.frame).focus();
    told.textContent = `Point ${at} taken away.`;
  }
  numbered();
  if (move !== "away") {
    event.target.focus();
    told.textContent = `Now point ${rows().indexOf(row) + 1}.`;
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
  if (field(row, "photograph").value !== shown) return null;
  const [x, y] = [field(row, "x_px").value, field(row, "y_px").value].map((v) => (v.trim() ? Number(v) : NaN));
  if (!Number.isFinite(x) || !Number.isFinite(y)) return null;
  return [x * picture.scale + picture.x, y * picture.scale + picture.y];
}

function draw() {
  marks.replaceChildren();
  const all = rows();
  for (const thread of ["needle", "shuttle"]) {
    const own = all.filter((row) => field(row, "thread").value === thread);
    own.slice(1).forEach((row, n) => {
      const [from, to] = [placeOf(own[n]), placeOf(row)];
      if (from && to) line(from, to, thread, Boolean(field(row, "behind").value.trim()));
    });
  }
  all.forEach((row, n) => {
    const at = placeOf(row);
    if (at) number(at, String(n + 1), row === chosen);
  });
}

function line(from, to, thread, behind) {
  const d = `M${from.join(" ")}L${to.join(" ")}`;
  shape("path", "thread-halo", { d });
  shape("path", `thread-line${behind ? " behind" : ""}${thread === "shuttle" ? " double" : ""}`, { d });
  if (thread === "shuttle") shape("path", "thread-within", { d });
  const [dx, dy] = [to[0] - from[0], to[1] - from[1]];
  if (Math.hypot(dx, dy) < 44) return;
  const turn = (Math.atan2(dy, dx) * 180) / Math.PI;
  shape("path", "thread-arrow", {
    d: "M8 0L-6 6L-3 0L-6 -6Z",
    transform: `translate(${from[0] + dx / 2} ${from[1] + dy / 2}) rotate(${turn})`,
  });
}

function number([x, y], words, isChosen) {
  shape("circle", `thread-place${isChosen ? " chosen" : ""}`, { cx: x, cy: y, r: isChosen ? 14 : 11 });
  shape("text", "thread-number", { x, y: y + 5 }).textContent = words;
}

function shape(name, look, attributes) {
  const sign = document.createElementNS(SVG, name);
  sign.setAttribute("class", look);
  for (const [key, value] of Object.entries(attributes)) sign.setAttribute(key, String(value));
  marks.append(sign);
  return sign;
}

for (const row of rows()) ready(row);
document.querySelector("[data-another]").closest("p").hidden = true;
attend();
numbered();
