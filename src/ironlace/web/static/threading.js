// A threading plan touched on photographs: a line from point to point, an arrow the way it runs.

import { PlaceList } from "./place_list.js";

const places = new PlaceList({
  called: "Point",
  asks: "say what the thread does there",
  first: "does",
  onAdded(row, last) {
    if (last) field(row, "thread").value = field(last, "thread").value; // the same thread goes on
    sides(row);
  },
  onSet(row) {
    field(row, "photograph").value = places.shown;
  },
  onDraw: draw,
});
const sidesOf = JSON.parse(places.list.dataset.sides); // by what the thread does

function field(row, name) {
  return places.field(row, name);
}

// only the sides that the deed can have are offered
function sides(row) {
  const does = field(row, "does").value;
  const side = field(row, "side");
  const fit = (sidesOf[does] ?? sidesOf.slot).split(" "); // until it is said, what most have
  for (const one of side.options) one.hidden = one.disabled = Boolean(one.value) && !fit.includes(one.value);
  if (side.value && !fit.includes(side.value)) side.value = "";
}

places.list.addEventListener("input", (event) => {
  if (event.target.name !== "does") return;
  const row = event.target.closest("[data-point]");
  sides(row);
  const begins = { bobbin: "shuttle", spool: "needle" }[event.target.value];
  if (begins) field(row, "thread").value = begins;
  places.draw();
});

function placeOf(row) {
  return field(row, "photograph").value === places.shown ? places.placeOf(row) : null;
}

function draw() {
  const all = places.rows;
  for (const thread of ["needle", "shuttle"]) {
    const own = all.filter((row) => field(row, "thread").value === thread);
    own.slice(1).forEach((row, n) => {
      const [from, to] = [placeOf(own[n]), placeOf(row)];
      if (from && to) line(from, to, thread, Boolean(field(row, "behind").value.trim()));
    });
  }
  all.forEach((row, n) => {
    const at = placeOf(row);
    const chosen = row === places.chosen;
    if (at) places.badge(...at, String(n + 1), { r: chosen ? 14 : 11, look: chosen ? " chosen" : "" });
  });
}

function line(from, to, thread, behind) {
  const d = `M${from.join(" ")}L${to.join(" ")}`;
  places.shape("path", "thread-halo", { d });
  places.shape("path", `thread-line${behind ? " behind" : ""}${thread === "shuttle" ? " double" : ""}`, { d });
  if (thread === "shuttle") places.shape("path", "thread-within", { d });
  const [dx, dy] = [to[0] - from[0], to[1] - from[1]];
  if (Math.hypot(dx, dy) < 44) return;
  const turn = (Math.atan2(dy, dx) * 180) / Math.PI;
  places.shape("path", "thread-arrow", {
    d: "M8 0L-6 6L-3 0L-6 -6Z",
    transform: `translate(${from[0] + dx / 2} ${from[1] + dy / 2}) rotate(${turn})`,
  });
}

for (const row of places.rows) sides(row);
places.begin();
