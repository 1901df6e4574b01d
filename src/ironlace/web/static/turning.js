// A head seen turning: the server has drawn it and says where every part stands at every angle; this
// only moves what is there, by a slider, the wheel itself, or at a quiet pace.

const DEGREES_A_SECOND = 30;

const root = document.querySelector("[data-turning]");
const told = JSON.parse(root.dataset.turning);
const slider = root.querySelector("#turn-angle");
const runs = root.querySelector("[data-turn]");
const disc = root.querySelector("[data-disc]");
const wheel = root.querySelector("[data-wheel]");
const line = root.querySelector("[data-line]");
const [lineFrom, lineTo] = line.dataset.line.split(" ").map(Number);
const [wheelX, wheelY] = wheel.dataset.middle.split(" ").map(Number);
const quiet = matchMedia("(prefers-reduced-motion: reduce)");
const parts = told.parts.map((part) => ({
  ...part,
  shows: root.querySelector(`[data-height="${part.name}"]`),
  dot: root.querySelector(`[data-dot="${part.name}"]`),
  moves: root.querySelector(`[data-moves="${part.name}"]`),
}));
let turn = told.start;
let running = 0;

for (const one of root.querySelectorAll("[data-needs-script]")) one.hidden = false;

function between(values, place) {
  const first = Math.floor(place);
  const share = place - first;
  return (1 - share) * values[first] + share * values[first + 1];
}

function show(to) {
  turn = ((to % 360) + 360) % 360;
  const place = turn / told.step;
  const x = lineFrom + (turn / 360) * (lineTo - lineFrom);
  const stands = `${Math.round(told.sign * turn + 360) % 360}°`;
  disc.textContent = stands;
  line.setAttribute("transform", `translate(${x} 0)`);
  wheel.setAttribute("transform", `rotate(${Number(wheel.dataset.wheel) * turn} ${wheelX} ${wheelY})`);
  const words = [`disc at ${stands}`];
  for (const part of parts) {
    const first = Math.floor(place);
    const known = part.known[first] && part.known[first + 1];
    const height = between(part.height, place);
    const says = known ? `${height.toFixed(2)} ± ${between(part.half, place).toFixed(2)}` : "not read here";
    part.shows.textContent = says;
    words.push(known ? `${part.name} ${height.toFixed(1)} mm` : `${part.name} not read here`);
    for (const shape of [part.dot, part.moves]) {
      if (!shape) continue;
      if (known) shape.removeAttribute("visibility");
      else shape.setAttribute("visibility", "hidden");
    }
    if (!known) continue;
    const { low, high, top, base } = part.dot.dataset;
    part.dot.setAttribute("cx", x);
    part.dot.setAttribute("cy", Number(base) - ((height - low) / (high - low)) * (base - top));
    if (!part.moves) continue;
    const { way, perMm, zero } = part.moves.dataset;
    const by = (height - zero) * perMm * (way.startsWith("-") ? -1 : 1);
    part.moves.setAttribute("transform", way.endsWith("x") ? `translate(${by} 0)` : `translate(0 ${by})`);
  }
  if (document.activeElement !== slider || running) slider.value = turn;
  slider.setAttribute("aria-valuetext", words.join(", "));
}

function stop() {
  cancelAnimationFrame(running);
  running = 0;
  runs.textContent = "Turn";
  runs.setAttribute("aria-pressed", "false");
}

function run() {
  runs.textContent = "Stop";
  runs.setAttribute("aria-pressed", "true");
  let before = performance.now();
  const step = (now) => {
    show(turn + (DEGREES_A_SECOND * Math.min(now - before, 100)) / 1000);
    before = now;
    running = requestAnimationFrame(step);
  };
  running = requestAnimationFrame(step);
}

function mayRun() {
  if (quiet.matches && running) stop();
  runs.hidden = quiet.matches; // who asked for no motion turns it by the slider
}

slider.addEventListener("input", () => {
  if (running) stop();
  show(Number(slider.value));
});
runs.addEventListener("click", () => (running ? stop() : run()));
quiet.addEventListener("change", mayRun);
mayRun();
for (const button of root.querySelectorAll("[data-to]")) {
  button.addEventListener("click", () => {
    if (running) stop();
    show(Number(button.dataset.to));
    slider.value = turn;
  });
}

// the mouse's own wheel turns the drawn one, and a finger or the mouse draws it round
const by = (event) => {
  event.preventDefault();
  if (running) stop();
  show(turn + Math.sign(event.deltaY) * 2);
  slider.value = turn;
};
slider.addEventListener("wheel", by, { passive: false });
wheel.addEventListener("wheel", by, { passive: false });
wheel.classList.add("turn-wheel-live");
wheel.addEventListener("pointerdown", (event) => {
  const box = wheel.ownerSVGElement.getBoundingClientRect();
  const scale = box.width / wheel.ownerSVGElement.viewBox.baseVal.width;
  const middle = [box.left + wheelX * scale, box.top + wheelY * scale];
  const at = (e) => (Math.atan2(e.clientY - middle[1], e.clientX - middle[0]) * 180) / Math.PI;
  let before = at(event);
  if (running) stop();
  wheel.setPointerCapture(event.pointerId);
  const move = (e) => {
    const moved = ((at(e) - before + 540) % 360) - 180;
    before = at(e);
    show(turn + Number(wheel.dataset.wheel) * moved);
    slider.value = turn;
  };
  wheel.addEventListener("pointermove", move);
  const end = () => wheel.removeEventListener("pointermove", move);
  wheel.addEventListener("pointerup", end, { once: true });
  wheel.addEventListener("pointercancel", end, { once: true });
});
show(turn);
