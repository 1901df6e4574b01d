// A drawing changed by hand over its photograph. The page only shows and asks: each change is
// carried out, checked and kept by the bench, which answers with the outlines that are new.

import { areaOf, bent, pointAt, pointOn, ring, slackOf } from "./curves.js";
import { Eye, STEP } from "./eye.js";

const SVG = "http://www.w3.org/2000/svg";
const NEAR = 14; // pixels within which a finger means a point or a line
const root = document.querySelector("[data-rework]");
const frame = root.querySelector(".rework-frame");
const says = root.querySelector(".rework-says");
const fault = root.querySelector(".rework-fault");
const token = document.querySelector('meta[name="ironlace-token"]').content;
const input = (id) => document.getElementById(id);

const paths = new Map(); // number -> { layer, curves, grades, sources }
const shown = new Map(); // number -> its group in the picture
let told; // what the bench said last: serial, bounds, dashes, bridges, axis
const eye = new Eye(frame);
let chosen = null; // { path, node, curve }: node is the number of the point chosen
let busy = false;
let hand = "shape";
let twin = null; // { around, like, says, misses }: what would be laid, shown and not yet laid
let axisTouches = null; // places touched while the mirror axis is being set

// ---- the picture -------------------------------------------------------------------------

const picture = element("svg", { "aria-hidden": "true" });
const world = element("g", {}, picture);
const cut = element("clipPath", { id: "rework-cut" }, element("defs", {}, picture));
const cutBox = element("rect", {}, cut);
const marks = element("svg", { class: "marks", "aria-hidden": "true" });
let sheet, chosenUnder, chosenLine, axisLine, twinPath;

function element(name, attributes = {}, parent = null) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  parent?.append(made);
  return made;
}

function build() {
  const [left, top, right, bottom] = told.bounds;
  const box = { x: left, y: top, width: right - left, height: bottom - top };
  element("rect", { ...box, class: "ground" }, world);
  if (root.dataset.flat) {
    element("image", { ...box, href: root.dataset.flat, preserveAspectRatio: "none", class: "under" }, world);
  }
  for (const [key, value] of Object.entries(box)) cutBox.setAttribute(key, value);
  const clipped = element("g", { "clip-path": "url(#rework-cut)" }, world);
  drawPlaces(clipped);
  sheet = element("g", {}, clipped);
  chosenUnder = element("path", { class: "chosen-under" }, clipped);
  chosenLine = element("path", { class: "chosen" }, clipped);
  twinPath = element("path", { class: "twin" }, world);
  axisLine = element("line", { class: "axis" }, world);
  frame.append(picture, marks);
  // the frame is as wide as the page and as high as the drawing then needs, where there is room
  root.style.setProperty("--aspect", String(box.height / box.width));
  eye.of(told.bounds);
}

// what no photograph shows is shaded, what was closed inside the paint dotted, as in the drawing's file
function drawPlaces(under) {
  const shade = { id: "rework-unseen", width: 1.2, height: 1.2, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" };
  element("path", { d: "M0 0V1.2", stroke: "#9a9a9a", "stroke-width": 0.25 }, element("pattern", shade, cut.parentNode));
  const outline = (place) => `M${place.corners_mm.map((at) => at.join(" ")).join("L")}Z`;
  for (const place of told.blind) element("path", { d: outline(place), class: "unseen" }, under);
  const dash = told.dashes.conjectured.map((mm) => mm * 7).join(" ");
  for (const place of told.filled) {
    element("path", { d: outline(place), class: "closed-over", "stroke-dasharray": dash }, under);
  }
}

function drawPath(number) {
  shown.get(number)?.remove();
  shown.delete(number);
  const path = paths.get(number);
  if (!path) return;
  const group = element("g", {}, sheet);
  const d = ring(path.curves);
  element("path", { d, class: "halo" }, group);
  // neighbouring curves of one grade are one line, so that its pattern runs through
  let at = 0;
  while (at < path.curves.length) {
    let end = at + 1;
    while (end < path.curves.length && path.grades[end] === path.grades[at]) end += 1;
    const run = path.curves.slice(at, end);
    const line = `M${run[0][0]} ${run[0][1]}` + run.map((c) => `C${c.slice(2).join(" ")}`).join("");
    const dash = told.dashes[path.grades[at]].map((mm) => mm * 7).join(" ");
    element("path", { d: line, class: `line line-${path.grades[at]}`, "stroke-dasharray": dash || "none" }, group);
    at = end;
  }
  shown.set(number, group);
}

// filled even-odd a colour at a time, so that holes stay open
function drawFill() {
  for (const old of sheet.querySelectorAll(".gilt")) old.remove();
  if (!frame.classList.contains("filled")) return;
  const byColour = new Map();
  for (const path of paths.values()) {
    byColour.set(path.layer, (byColour.get(path.layer) ?? "") + ring(path.curves));
  }
  for (const [name, d] of byColour) {
    const colour = told.colours[name] ?? [184, 144, 64];
    sheet.prepend(element("path", { d, class: "gilt", fill: `rgb(${colour.join(",")})` }));
  }
}

eye.onChange = () => {
  world.setAttribute("transform", `translate(${eye.x} ${eye.y}) scale(${eye.scale})`);
  // from afar the outlines are hairs, so that the gilt of fine work stays in sight under them
  frame.style.setProperty("--thin", String(Math.min(Math.max(eye.scale / 16, 0.6), 1.3)));
  mark();
};

function showChosen(d) {
  chosenUnder.setAttribute("d", d);
  chosenLine.setAttribute("d", d);
}

function mark() {
  marks.replaceChildren();
  const path = chosen && paths.get(chosen.path);
  showChosen(path ? ring(path.curves) : "");
  if (path) {
    const n = path.curves.length;
    const pin = eye.scale > 12 ? 4 : 2.4;
    if (chosen.node !== null && chosen.node < n) {
      for (const [side, at] of slackOf(path, chosen.node)) {
        const [from, to] = [eye.toScreen(pointAt(path, chosen.node)), eye.toScreen(at)];
        const line = { x1: from[0], y1: from[1], x2: to[0], y2: to[1] };
        element("line", { ...line, class: "slack-under" }, marks);
        element("line", { ...line, class: "slack" }, marks);
        element("circle", { cx: to[0], cy: to[1], r: 4.5, class: "slack-end", "data-side": side }, marks);
      }
    }
    path.curves.forEach((curve, i) => {
      const [cx, cy] = eye.toScreen([curve[0], curve[1]]);
      const here = i === chosen.node;
      element("circle", { cx, cy, r: here ? 6 : pin, class: here ? "pin pin-chosen" : "pin" }, marks);
    });
  }
  for (const place of axisTouches ?? []) {
    const [cx, cy] = eye.toScreen(place);
    element("circle", { cx, cy, r: 6, class: "pin pin-chosen" }, marks);
  }
  if (line.places.length) drawHand();
}

// ---- the mirror axis, and what would be laid --------------------------------------------------

function axisFigures() {
  const [x, y, direction, more] = figures("w-axis");
  return direction === undefined || more !== undefined ? null : { at: [x, y], direction_deg: direction };
}

function drawAxis() {
  const axis = hand === "like" && input("w-like").value === "mirror" ? axisFigures() : null;
  axisLine.classList.toggle("shown", axis !== null);
  if (!axis) return;
  const [left, top, right, bottom] = told.bounds;
  const far = Math.hypot(right - left, bottom - top);
  const turn = (axis.direction_deg * Math.PI) / 180;
  const [dx, dy] = [Math.cos(turn) * far, Math.sin(turn) * far];
  const ends = { x1: axis.at[0] - dx, y1: axis.at[1] - dy, x2: axis.at[0] + dx, y2: axis.at[1] + dy };
  for (const [key, value] of Object.entries(ends)) axisLine.setAttribute(key, value);
}

function setAxis(axis, words) {
  input("w-axis").value = axis ? `${axis.at.map((v) => v.toFixed(2)).join(", ")}, ${axis.direction_deg.toFixed(2)}` : "";
  input("w-axis-says").textContent = words;
  leaveTwin();
  drawAxis();
}

const foundWords = (axis) =>
  axis.matched === undefined
    ? "The axis that was found when it was traced."
    : `Found: ${Math.round(100 * axis.matched)} % of the outline finds its like across it, half of that within ${axis.residual_mm.toFixed(2)} mm.`;

async function findAxis(button) {
  button.disabled = true;
  input("w-axis-says").textContent = "Looking for the axis …";
  try {
    const { axis } = await ask(root.dataset.axis, {});
    if (axis) setAxis(axis, foundWords(axis));
    else setAxis(null, "No mirror axis was found that is more than chance. Where you see one, set it by two touches.");
  } catch (error) {
    input("w-axis-says").textContent = "";
    say(error.message);
  } finally {
    button.disabled = false;
  }
}

function touchAxis(place) {
  axisTouches.push(place);
  mark();
  if (axisTouches.length < 2) {
    input("w-axis-says").textContent = "Now touch a second place on the axis, far from the first.";
    return;
  }
  const [[ax, ay], [bx, by]] = axisTouches;
  axisTouches = null;
  if (Math.hypot(bx - ax, by - ay) < 1) {
    input("w-axis-says").textContent = "The two places are one: set it again, farther apart.";
    return mark();
  }
  const turn = (Math.atan2(by - ay, bx - ax) * 180) / Math.PI;
  const direction = turn > 90 ? turn - 180 : turn <= -90 ? turn + 180 : turn;
  setAxis({ at: [(ax + bx) / 2, (ay + by) / 2], direction_deg: direction }, "Set by two touches.");
  mark();
}

async function showTwin(places) {
  let like;
  if (input("w-like").value === "mirror") {
    like = axisFigures();
    if (!like) return say("Say where the mirror axis is first: find it, set it by two touches, or write it.");
  } else {
    const way = figures("w-way");
    if (way.length !== 2) return say("Say the way from the place to its like first: x and y in mm.");
    like = { way };
  }
  fault.hidden = true;
  leaveTwin();
  says.textContent = "Laying the twin over the place …";
  try {
    const shown = await ask(root.dataset.twin, { order: { around: places, like } });
    twin = { around: places, like };
    twinPath.setAttribute("d", shown.outlines.map(ring).join(""));
    const box = root.querySelector(".rework-twin");
    box.querySelector("p").textContent = (shown.misses ? "The twin misses gilt that is seen: it will not replace it. " : "") + shown.says;
    box.querySelector('[data-do="fill-all"]').hidden = shown.misses;
    box.hidden = false;
    says.textContent = shown.outlines.length ? "What would be laid there is shown; nothing is changed yet." : "Nothing is drawn at its like.";
  } catch (error) {
    tell("Nothing is changed.");
    say(error.message);
  }
}

function leaveTwin() {
  twin = null;
  twinPath?.setAttribute("d", "");
  root.querySelector(".rework-twin").hidden = true;
}

async function fillTwin(replaces) {
  const { around, like } = twin;
  const words = replaces === "all" ? "Filled from its like." : "Filled from its like where nothing is seen.";
  if (await order("from-like", { around, like, replaces }, words)) leaveTwin();
}

function say(words) {
  fault.querySelector("p").textContent = words;
  fault.hidden = false;
}

// ---- finding what a finger means ------------------------------------------------------------

function nearest([x, y], only = null) {
  let best = { away: Infinity };
  const numbers = only === null ? paths.keys() : [only];
  for (const number of numbers) {
    paths.get(number)?.curves.forEach((c, curve) => {
      const reach = NEAR / eye.scale;
      const xs = [c[0], c[2], c[4], c[6]];
      const ys = [c[1], c[3], c[5], c[7]];
      if (x < Math.min(...xs) - reach || x > Math.max(...xs) + reach) return;
      if (y < Math.min(...ys) - reach || y > Math.max(...ys) + reach) return;
      for (let k = 0; k <= 24; k += 1) {
        const [px, py] = pointOn(c, k / 24);
        const away = Math.hypot(px - x, py - y);
        if (away < best.away) best = { away, path: number, curve, t: k / 24 };
      }
    });
  }
  return best.away * eye.scale <= NEAR ? best : null;
}

function grabbed([x, y]) {
  const path = chosen && paths.get(chosen.path);
  if (!path) return null;
  const away = ([px, py]) => Math.hypot(px - x, py - y) * eye.scale;
  if (chosen.node !== null && chosen.node < path.curves.length) {
    for (const [side, at] of slackOf(path, chosen.node)) {
      if (away(at) <= NEAR) return { what: "slack", node: chosen.node, side };
    }
  }
  let best = null;
  path.curves.forEach((c, node) => {
    const far = away([c[0], c[1]]);
    if (far <= NEAR && (!best || far < best.far)) best = { what: "node", node, far };
  });
  if (best) return best;
  const on = nearest([x, y], chosen.path);
  return on && on.t > 0.02 && on.t < 0.98 ? { what: "curve", curve: on.curve, t: on.t } : null;
}

// ---- asking the bench -----------------------------------------------------------------------

async function ask(address, body) {
  const answer = await fetch(address, {
    method: "POST",
    headers: { "content-type": "application/json", accept: "application/json", "x-ironlace-token": token },
    body: JSON.stringify({ serial: told.serial, ...body }),
  });
  const said = await answer.json();
  if (!answer.ok) throw new Error(said.error?.says ?? "That did not work: reload the page.");
  return said;
}

async function change(address, body, done) {
  if (busy) return false;
  busy = true;
  fault.hidden = true;
  try {
    const said = await ask(address, body);
    for (const number of Object.keys(said.change.before)) paths.delete(Number(number));
    for (const [number, path] of Object.entries(said.change.after)) paths.set(Number(number), path);
    for (const number of new Set([...Object.keys(said.change.before), ...Object.keys(said.change.after)])) {
      drawPath(Number(number));
    }
    drawFill();
    Object.assign(told, said);
    if (chosen && !paths.has(chosen.path)) {
      const after = Object.keys(said.change.after).map(Number);
      chosen = after.length === 1 ? { path: after[0], node: null, curve: null } : null;
    }
    if (chosen && chosen.node >= paths.get(chosen.path).curves.length) chosen.node = 0;
    tell(done);
    return true;
  } catch (error) {
    fault.querySelector("p").textContent = error.message;
    fault.hidden = false;
    if (chosen) drawPath(chosen.path);
    return false;
  } finally {
    busy = false;
    about();
    tellSpecks();
    mark();
  }
}

function evidence() {
  const grade = root.querySelector('input[name="stands"]:checked').value;
  if (grade === "conjectured") return undefined;
  return { grade, source: input("w-source").value.trim() || (grade === "seen" ? "here, by eye" : "") };
}

const shapes = () => ["shape", "bridges", "specks"].includes(hand); // then a touch chooses
const order = (what, more = {}, done = "Done.") =>
  change(root.dataset.change, { order: { do: what, evidence: evidence(), ...more } }, done);
const back = () => change(root.dataset.back, {}, "Taken back.");
const again = () => change(root.dataset.again, {}, "Made again.");

function tell(words) {
  const all = Object.values(told.lengths).reduce((a, b) => a + b, 0) || 1;
  const shares = Object.entries(told.lengths)
    .filter(([, length]) => length > 0)
    .map(([grade, length]) => `${((100 * length) / all).toFixed(1)} % ${grade}`);
  says.textContent = `${words} ${paths.size} outlines, ${told.nodes} points; ${shares.join(", ")}.`;
  root.querySelector('[data-do="back"]').disabled = told.done === 0;
  root.querySelector('[data-do="again"]').disabled = told.undone === 0;
  document.querySelector(".rework-count").textContent = told.done;
  document.querySelector("[data-done]").textContent = told.done;
  document.querySelector('.rework-keep input[name="serial"]').value = told.serial;
}

function about() {
  const box = root.querySelector(".rework-chosen");
  const path = chosen && paths.get(chosen.path);
  const curve = chosen ? (chosen.curve ?? chosen.node) : null;
  let words = "None yet: touch one, or press n in the picture.";
  if (path) {
    words = `${path.curves.length} points.`;
    if (chosen.node !== null) {
      const [x, y] = pointAt(path, chosen.node);
      words += ` Point ${chosen.node + 1} at ${x.toFixed(2)}, ${y.toFixed(2)} mm.`;
    }
    if (curve !== null && curve < path.grades.length) {
      words += ` The stretch ${chosen.curve === null ? "after it" : "touched"} is ${path.grades[curve]}, from ${path.sources[curve]}.`;
    }
  }
  box.querySelector(".rework-about").textContent = words;
  for (const button of box.querySelectorAll("[data-do]")) {
    const what = button.dataset.do;
    if (what === "next-outline" || what === "former-outline") continue;
    const onPath = ["next-point", "former-point", "take-path", "vouch-path"].includes(what);
    button.disabled = !path || (!onPath && (what === "take-point" ? chosen.node === null : curve === null));
  }
}

function choose(next) {
  chosen = next;
  about();
  tellSpecks();
  mark();
}

// ---- the hand -------------------------------------------------------------------------------

const pointers = new Map();
const line = { places: [] };
let grip = null;
let travelled = 0;

function handWidth() {
  if (hand === "rub") return Number(input("w-rub").value) || 0.8;
  return Number(input("w-middle").value) || 1;
}

function drawHand() {
  const points = line.places.map((p) => eye.toScreen(p).join(" ")).join(" ");
  for (const old of marks.querySelectorAll(".hand-line, .hand-round")) old.remove();
  if (hand === "like") element("polygon", { points, class: "hand-round" }, marks);
  else {
    const width = Math.max(1.5, handWidth() * eye.scale);
    element("polyline", { points, class: "hand-line", "stroke-width": width }, marks);
  }
}

function number(id) {
  return Number(input(id).value.trim().replace(",", "."));
}

function figures(id) {
  return (input(id).value.match(/-?\d+(?:\.\d+)?/g) ?? []).map(Number);
}

function useLine(places) {
  if (hand === "stroke") {
    const widths = [number("w-begin"), number("w-middle"), number("w-end")];
    return order("stroke", { places, widths, layer: input("w-layer")?.value ?? "gold" }, "The stroke is laid.");
  }
  if (hand === "rub") return order("rub-out", { places, width: number("w-rub") }, "Rubbed out.");
  if (hand === "like") return showTwin(places);
  say("Set the hand to draw, to rub out or to fill; then the places are used.");
  return null;
}

frame.addEventListener("pointerdown", (event) => {
  if (event.button !== 0 || !told) return;
  frame.focus({ preventScroll: true });
  frame.setPointerCapture(event.pointerId);
  const { left, top } = eye.box;
  const at = [event.clientX - left, event.clientY - top];
  pointers.set(event.pointerId, at);
  if (pointers.size > 1) {
    grip = null; // two fingers move and bring nearer
    line.places = [];
    travelled = Infinity;
    mark();
    return;
  }
  travelled = 0;
  if (axisTouches) grip = null;
  else if (shapes()) grip = busy ? null : grabbed(eye.toMm(...at));
  else line.places = [eye.toMm(...at)];
});

frame.addEventListener("pointermove", (event) => {
  const before = pointers.get(event.pointerId);
  if (!before) return;
  const { left, top } = eye.box;
  const now = [event.clientX - left, event.clientY - top];
  pointers.set(event.pointerId, now);
  travelled += Math.hypot(now[0] - before[0], now[1] - before[1]);
  if (pointers.size === 2) {
    const [other] = [...pointers].filter(([id]) => id !== event.pointerId).map(([, p]) => p);
    const apart = (p) => Math.max(Math.hypot(p[0] - other[0], p[1] - other[1]), 1);
    eye.move((now[0] - before[0]) / 2, (now[1] - before[1]) / 2);
    eye.nearer(apart(now) / apart(before), (now[0] + other[0]) / 2, (now[1] + other[1]) / 2);
  } else if (!shapes() && !axisTouches) {
    const events = event.getCoalescedEvents?.() ?? [];
    for (const one of events.length ? events : [event]) {
      if (line.places.length < 4000) line.places.push(eye.toMm(one.clientX - left, one.clientY - top));
    }
    drawHand();
  } else if (grip && travelled > 4) {
    const path = paths.get(chosen.path);
    const shape = bent(path, grip, eye.toMm(...now));
    showChosen(ring(shape.curves));
    grip.to = eye.toMm(...now);
  } else if (!grip && travelled > 4) {
    frame.classList.add("held");
    eye.move(now[0] - before[0], now[1] - before[1]);
  }
});

for (const kind of ["pointerup", "pointercancel"]) {
  frame.addEventListener(kind, (event) => {
    const at = pointers.get(event.pointerId);
    if (!pointers.delete(event.pointerId)) return;
    frame.classList.remove("held");
    const [held, places] = [grip, line.places];
    grip = null;
    line.places = [];
    if (kind === "pointercancel" || travelled === Infinity) {
      mark();
      return;
    }
    if (axisTouches) {
      if (travelled <= 6) touchAxis(eye.toMm(...at));
    } else if (!shapes()) {
      mark();
      if (places.length > 1) useLine(places);
    } else if (held?.to) {
      drop(held);
    } else if (travelled <= 6) {
      touch(eye.toMm(...at), held);
    }
  });
}

function drop(held) {
  const path = chosen.path;
  if (held.what === "node") {
    choose({ path, node: held.node, curve: null });
    order("move-node", { path, node: held.node, to: held.to }, "The point is moved.");
  } else if (held.what === "slack") {
    order("move-handle", { path, node: held.node, side: held.side, to: held.to }, "The slack is drawn.");
  } else {
    choose({ path, node: null, curve: held.curve });
    order("pull", { path, curve: held.curve, t: held.t, to: held.to }, "The curve is pulled.");
  }
}

function touch(place, held) {
  if (held?.what === "node") choose({ path: chosen.path, node: held.node, curve: null });
  else if (held?.what === "curve") choose({ path: chosen.path, node: null, curve: held.curve, t: held.t });
  else {
    const on = nearest(place);
    choose(on ? { path: on.path, node: null, curve: on.curve, t: on.t } : null);
  }
}

frame.addEventListener(
  "wheel",
  (event) => {
    event.preventDefault();
    const { left, top } = eye.box;
    eye.nearer(Math.exp(-event.deltaY * 0.0016), event.clientX - left, event.clientY - top);
  },
  { passive: false },
);

frame.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || !told) return;
  const far = event.shiftKey ? 0.5 : 0.05;
  const doing = {
    ArrowLeft: () => nudge(-far, 0),
    ArrowRight: () => nudge(far, 0),
    ArrowUp: () => nudge(0, -far),
    ArrowDown: () => nudge(0, far),
    n: () => step(1),
    N: () => step(-1),
    "]": () => stepPoint(1),
    "[": () => stepPoint(-1),
    Enter: putPoint,
    Delete: takePoint,
    Backspace: takePoint,
    s: () => stepSpeck(1),
    S: () => stepSpeck(-1),
    b: () => stepBridge(1),
    B: () => stepBridge(-1),
    u: back,
    U: again,
    "+": () => eye.nearer(STEP),
    "=": () => eye.nearer(STEP),
    "-": () => eye.nearer(1 / STEP),
    0: () => eye.whole(),
    Escape: () => {
      axisTouches = null;
      leaveTwin();
      choose(null);
    },
  }[event.key];
  if (!doing) return;
  event.preventDefault();
  doing();
});

function nudge(dx, dy) {
  const path = chosen && paths.get(chosen.path);
  if (!path || chosen.node === null) {
    const { width, height } = eye.box;
    eye.move(-Math.sign(dx) * width * 0.12, -Math.sign(dy) * height * 0.12);
    return;
  }
  const [x, y] = pointAt(path, chosen.node);
  order("move-node", { path: chosen.path, node: chosen.node, to: [x + dx, y + dy] }, "The point is moved.");
}

function setHand(value) {
  root.querySelector(`input[name="hand"][value="${value}"]`).checked = true;
  hand = value;
  frame.dataset.hand = hand;
  for (const box of root.querySelectorAll("[data-with]")) box.hidden = box.dataset.with !== hand;
  axisTouches = null;
  leaveTwin();
  drawAxis();
  tellSpecks();
  mark();
}

// specks of gilt and pinholes in it, the smallest first, one after the other or all at once

const kept = new Set(); // numbers of those a person said belong here

function specks() {
  const most = number("w-speck");
  const doubted = input("w-doubted").checked;
  const small = [];
  for (const [n, path] of paths) {
    const area = areaOf(path);
    if (Math.abs(area) >= most || kept.has(n)) continue;
    if (!doubted || path.sources.includes(root.dataset.fleck)) small.push({ n, area });
  }
  return small.sort((a, b) => Math.abs(a.area) - Math.abs(b.area) || a.n - b.n);
}

function tellSpecks() {
  if (hand !== "specks") return;
  const all = specks();
  const holes = all.filter(({ area }) => area < 0).length;
  const at = chosen ? all.findIndex(({ n }) => n === chosen.path) : -1;
  const about = at < 0 ? "" : ` ${at + 1}: ${Math.abs(all[at].area).toFixed(3)} mm², ${all[at].area < 0 ? "a pinhole" : "a speck"}, ${paths.get(all[at].n).grades[0]}.`;
  root.querySelector(".rework-speck-told").textContent =
    (all.length ? `${all.length - holes} specks and ${holes} pinholes.` : "None is so small.") + about;
  for (const button of root.querySelectorAll('[data-do="take-speck"], [data-do="keep-speck"]')) button.disabled = at < 0;
  for (const button of root.querySelectorAll('[data-do="take-specks"], [data-do="next-speck"], [data-do="former-speck"]')) button.disabled = !all.length;
}

function stepSpeck(by, from = chosen?.path) {
  if (hand !== "specks") setHand("specks");
  const all = specks();
  if (!all.length) return tell("No outline is so small.");
  const at = all.findIndex(({ n }) => n === from);
  const { n } = all[at < 0 ? (by > 0 ? 0 : all.length - 1) : (at + by + all.length) % all.length];
  choose({ path: n, node: null, curve: 0 });
  eye.lookAt(pointAt(paths.get(n), 0), 4);
  says.textContent = `It lies in the middle of the picture.${root.querySelector(".rework-speck-told").textContent.replace(/^[^.]*\./, "")}`;
}

// the one after it, to go on with when it is away or said to belong here
function afterSpeck() {
  const all = specks();
  const at = all.findIndex(({ n }) => n === chosen.path);
  return all.length > 1 ? all[(at + 1) % all.length].n : null;
}

function goOnTo(next) {
  if (next === null || !paths.has(next)) return tellSpecks();
  choose({ path: next, node: null, curve: 0 });
  eye.lookAt(pointAt(paths.get(next), 0), 4);
}

async function takeSpeck() {
  const next = afterSpeck();
  if (await order("take-path", { path: chosen.path }, "It is away.")) goOnTo(next);
}

async function keepSpeck() {
  const next = afterSpeck();
  const path = chosen.path;
  const stands = evidence();
  // without evidence nothing is said of it but that it stays
  if (stands && !(await order("vouch", { path, curves: paths.get(path).curves.map((_, i) => i), evidence: stands }, "That is said now."))) return;
  kept.add(path);
  if (!stands) tell("It stays, graded as it was.");
  goOnTo(next);
}

function takeSpecks() {
  const all = specks().map(({ n }) => n);
  order("take-paths", { paths: all }, `${all.length} are away; one touch takes them back.`);
}

// the bridges that were proposed, one after the other: chosen, and brought into view
let bridgeAt = null;

function stepBridge(by) {
  const count = told.bridges.length;
  if (!count) return tell("No bridge was proposed.");
  bridgeAt = bridgeAt === null ? (by > 0 ? 0 : count - 1) : (bridgeAt + by + count) % count;
  if (hand !== "bridges") setHand("bridges");
  const bridge = told.bridges[bridgeAt];
  eye.lookAt(bridge.at_mm, 6);
  const words = `Bridge ${bridgeAt + 1} of ${count}, ${(bridge.gap_mm ?? 0).toFixed(1)} mm`;
  root.querySelector(".rework-bridge-told").textContent = `${words}.`;
  says.textContent = `${words}, is in the middle of the picture.`;
}

function step(by) {
  if (!shapes()) setHand("shape");
  const numbers = [...paths.keys()].sort((a, b) => a - b);
  if (!numbers.length) return;
  const at = chosen ? numbers.indexOf(chosen.path) : by > 0 ? -1 : 0;
  const path = numbers[(at + by + numbers.length) % numbers.length];
  choose({ path, node: 0, curve: null });
  eye.lookAt(pointAt(paths.get(path), 0));
  tell(`Outline ${numbers.indexOf(path) + 1} of ${numbers.length}, point 1.`);
}

function stepPoint(by) {
  if (!shapes()) setHand("shape");
  const path = chosen && paths.get(chosen.path);
  if (!path) return;
  const n = path.curves.length;
  const node = ((chosen.node ?? chosen.curve ?? 0) + by + n) % n;
  choose({ path: chosen.path, node, curve: null });
  const [x, y] = pointAt(path, node);
  const { width, height } = eye.box;
  const [sx, sy] = eye.toScreen([x, y]);
  if (sx < 20 || sy < 20 || sx > width - 20 || sy > height - 20) eye.lookAt([x, y]);
  says.textContent = `Point ${node + 1} of ${n}, ${path.grades[node]} after it.`;
}

function putPoint() {
  if (!chosen) return;
  const curve = chosen.curve ?? chosen.node;
  if (curve === null) return;
  const t = Math.min(Math.max(chosen.t ?? 0.5, 0.05), 0.95);
  order("put-node", { path: chosen.path, curve, t }, "A point is put in.").then((made) => {
    if (made && chosen) choose({ path: chosen.path, node: (curve + 1) % paths.get(chosen.path).curves.length, curve: null });
  });
}

function takePoint() {
  if (chosen && chosen.node !== null) {
    order("take-node", { path: chosen.path, node: chosen.node }, "The point is out.");
  }
}

function vouch(curves) {
  const stands = evidence();
  const grade = stands ?? { grade: "conjectured", source: "drawn" };
  order("vouch", { path: chosen.path, curves, evidence: grade }, "That is said now.");
}

// ---- the tools beside the picture ------------------------------------------------------------

root.addEventListener("click", (event) => {
  const button = event.target.closest("[data-do]");
  const what = button?.dataset.do;
  if (!what || !told) return;
  if (what === "nearer") eye.nearer(STEP);
  else if (what === "farther") eye.nearer(1 / STEP);
  else if (what === "whole") eye.whole();
  else if (what === "back") back();
  else if (what === "again") again();
  else if (what === "next-outline") step(1);
  else if (what === "former-outline") step(-1);
  else if (what === "next-point") stepPoint(1);
  else if (what === "former-point") stepPoint(-1);
  else if (what === "next-bridge") stepBridge(1);
  else if (what === "former-bridge") stepBridge(-1);
  else if (what === "next-speck") stepSpeck(1);
  else if (what === "former-speck") stepSpeck(-1);
  else if (what === "take-speck") takeSpeck();
  else if (what === "keep-speck") keepSpeck();
  else if (what === "take-specks") takeSpecks();
  else if (what === "put-point") putPoint();
  else if (what === "take-point") takePoint();
  else if (what === "take-path") order("take-path", { path: chosen.path }, "The outline is away.");
  else if (what === "vouch-curve") vouch([chosen.curve ?? chosen.node]);
  else if (what === "vouch-path") vouch(paths.get(chosen.path).curves.map((_, i) => i));
  else if (what === "find-axis") findAxis(button);
  else if (what === "touch-axis") {
    axisTouches = [];
    input("w-axis-says").textContent = "Touch a place on the axis, then a second one far from it.";
  } else if (what === "fill-all") fillTwin("all");
  else if (what === "fill-unseen") fillTwin("unseen");
  else if (what === "leave-twin") {
    leaveTwin();
    tell("Nothing is changed.");
  } else if (what === "figures") {
    const all = figures("w-places");
    const places = [];
    for (let i = 0; i + 1 < all.length; i += 2) places.push([all[i], all[i + 1]]);
    useLine(places);
  } else if (what === "accept-bridge" || what === "refuse-bridge") {
    if (bridgeAt === null) stepBridge(1);
    const done = what === "accept-bridge" ? "accepted; it stays conjecture" : "taken out";
    order(what, { bridge: bridgeAt }, `Bridge ${bridgeAt + 1} is ${done}.`);
  }
});

root.addEventListener("change", (event) => {
  const { name, value } = event.target;
  if (name === "hand") {
    setHand(value);
  } else if (name === "stands") {
    root.querySelector("[data-source]").hidden = value === "conjectured";
  } else if (event.target.id === "w-like") {
    for (const box of root.querySelectorAll("[data-like]")) box.hidden = box.dataset.like !== value;
    leaveTwin();
    drawAxis();
  } else if (event.target.id === "w-axis") {
    input("w-axis-says").textContent = "";
    leaveTwin();
    drawAxis();
  } else if (event.target.dataset.do === "fill") {
    frame.classList.toggle("filled", event.target.checked);
    drawFill();
  }
});

input("w-speck").addEventListener("input", tellSpecks);
input("w-doubted").addEventListener("change", tellSpecks);

input("rework-wipe").addEventListener("input", (event) => {
  const [left, , right] = told.bounds;
  const share = Number(event.target.value) / 100;
  cutBox.setAttribute("x", left + (right - left) * share);
  cutBox.setAttribute("width", (right - left) * (1 - share));
});

async function begin() {
  root.querySelector(".rework-work").hidden = false;
  const answer = await fetch(root.dataset.state, { headers: { accept: "application/json" } });
  if (!answer.ok) {
    const said = await answer.json();
    throw new Error(said.error?.says ?? "The drawing could not be read: reload the page.");
  }
  told = await answer.json();
  for (const [number, path] of Object.entries(told.paths)) paths.set(Number(number), path);
  delete told.paths;
  build();
  for (const n of paths.keys()) drawPath(n);
  input("w-doubted").checked = [...paths.values()].some((path) => path.sources.includes(root.dataset.fleck));
  setAxis(told.axis, told.axis ? foundWords(told.axis) : "None was found yet: find it, or set it by two touches.");
  tell(told.done ? `${told.done} changes made before stand.` : "Touch an outline to choose it.");
}

begin().catch((error) => {
  fault.querySelector("p").textContent = error.message;
  fault.hidden = false;
});
