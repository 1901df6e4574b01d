// Marks places on a photograph: on the gilt, on bare japan, the corners of an edge around the
// ornament. The places are written into the form's text fields, which are what is sent.

import { Picture } from "./picture.js";

const SVG = "http://www.w3.org/2000/svg";
const root = document.querySelector("[data-picking]");
const picture = new Picture(root.querySelector("[data-picture]"));
const fields = Object.fromEntries(
  [...document.querySelectorAll("textarea[data-points]")].map((area) => [area.dataset.points, area]),
);
const choices = root.querySelector(".picking");
const order = []; // which field each mark went to, so that the last can be taken away

choices.hidden = false;
const marks = document.createElementNS(SVG, "svg");
marks.setAttribute("class", "picture-marks");
marks.setAttribute("aria-hidden", "true");
const cross = document.createElement("span");
cross.className = "picture-cross";
cross.hidden = true;
picture.frame.append(marks, cross);

choices.addEventListener("change", () => {
  const chosen = choices.querySelector("input:checked").value;
  picture.onTouch = chosen ? (place) => add(chosen, place) : null;
  picture.frame.classList.toggle("picks", Boolean(chosen));
  cross.hidden = !chosen;
});
choices.addEventListener("click", (event) => {
  if (event.target.dataset?.do !== "last-away") return;
  const name = order.pop() ?? Object.keys(fields).find((key) => fields[key].value.trim());
  if (!name) return;
  fields[name].value = lines(name).slice(0, -1).join("\n");
  draw();
});
for (const area of Object.values(fields)) area.addEventListener("input", draw);
picture.onChange = draw;
draw();

function add(name, { x, y }) {
  fields[name].value = [...lines(name), `${x.toFixed(1)}, ${y.toFixed(1)}`].join("\n");
  order.push(name);
  draw();
}

function lines(name) {
  return fields[name].value.split("\n").map((line) => line.trim()).filter(Boolean);
}

function places(name) {
  return lines(name)
    .map((line) => line.split(/[,\s]+/).map(Number))
    .filter(([x, y]) => Number.isFinite(x) && Number.isFinite(y))
    .map(([x, y]) => [x * picture.scale + picture.x, y * picture.scale + picture.y]);
}

function draw() {
  marks.replaceChildren();
  for (const [x, y] of places("gilt")) twice("circle", "gilt", { cx: x, cy: y, r: 9 });
  for (const [x, y] of places("ground")) {
    twice("path", "ground", { d: `M${x} ${y - 11}L${x + 11} ${y}L${x} ${y + 11}L${x - 11} ${y}Z` });
  }
  for (const name of Object.keys(fields)) {
    if (!name.startsWith("colour-")) continue;
    for (const [x, y] of places(name)) {
      twice("circle", "ground", { cx: x, cy: y, r: 11 });
      lettered(name.slice(7, 8).toUpperCase(), x, y + 5);
    }
  }
  for (const name of ["axis", "step", "card"]) {
    const at = places(name);
    for (const [x, y] of at) twice("circle", "region", { cx: x, cy: y, r: 6 });
    if (at.length > 1) twice("line", "region", { x1: at[0][0], y1: at[0][1], x2: at[1][0], y2: at[1][1] });
    if (at.length) lettered(name, at[0][0], at[0][1] - 12);
  }
  places("measured").forEach(([x, y], n) => {
    twice("path", "region", { d: `M${x - 10} ${y}H${x + 10}M${x} ${y - 10}V${y + 10}` });
    lettered(String(n + 1), x + 14, y - 8);
  });
  const edge = places("region");
  for (const [x, y] of edge) twice("rect", "region", { x: x - 5, y: y - 5, width: 10, height: 10 });
  if (edge.length > 1) {
    twice("polygon", "region", { points: edge.map((place) => place.join(",")).join(" ") });
  }
}

function lettered(words, x, y) {
  for (const look of ["mark-letter-halo", "mark-letter"]) {
    const sign = document.createElementNS(SVG, "text");
    sign.setAttribute("class", look);
    sign.setAttribute("x", String(x));
    sign.setAttribute("y", String(y));
    sign.textContent = words;
    marks.append(sign);
  }
}

// each sign is drawn dark and wide, then light and thin, to show on black and on gilt
function twice(shape, name, attributes) {
  for (const look of ["mark-halo", `mark-line mark-${name}`]) {
    const sign = document.createElementNS(SVG, shape);
    sign.setAttribute("class", look);
    for (const [key, value] of Object.entries(attributes)) sign.setAttribute(key, String(value));
    marks.append(sign);
  }
}
