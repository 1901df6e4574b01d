// Wipes between the flattened photograph and the drawing over it: by a slider, which keys move
// too, and by drawing the edge along on the picture itself. Both can be looked at larger.

const MOST = 8;
const STEP = 1.4;

for (const root of document.querySelectorAll("[data-wipe]")) {
  const sheets = root.querySelector(".wipe-sheets");
  const view = root.querySelector(".wipe-view");
  const slider = root.querySelector('input[type="range"]');
  if (!slider) continue;
  root.classList.add("live");
  root.querySelector(".wipe-tool").hidden = false;
  root.querySelector(".wipe-edge").hidden = false;
  let larger = 1;
  root.addEventListener("click", (event) => {
    const what = event.target.closest("[data-do]")?.dataset.do;
    if (what === "through") root.classList.toggle("through", event.target.checked);
    const times = { nearer: larger * STEP, farther: larger / STEP, whole: 1 }[what];
    if (times === undefined) return;
    larger = Math.min(Math.max(times, 1), MOST);
    fit();
  });
  // whole, as large as the view allows; or so many times that
  const fit = () => {
    const { clientWidth } = view;
    const most = Number.parseFloat(getComputedStyle(view).maxHeight) || Infinity;
    const [{ naturalWidth, naturalHeight }] = sheets.querySelectorAll("img");
    const shape = naturalWidth ? naturalHeight / naturalWidth : 0.6;
    sheets.style.width = `${Math.min(clientWidth, (most - 2) / shape) * larger}px`;
    root.classList.toggle("roams", larger > 1);
  };
  for (const image of sheets.querySelectorAll("img")) image.addEventListener("load", fit);
  new ResizeObserver(fit).observe(root);
  const show = () => sheets.style.setProperty("--cut", `${slider.value}%`);
  const follow = (event) => {
    const { left, width } = sheets.getBoundingClientRect();
    slider.value = String(((event.clientX - left) / width) * 100);
    show();
  };
  slider.addEventListener("input", show);
  sheets.addEventListener("pointerdown", (event) => {
    if (larger > 1 && event.pointerType !== "mouse") return; // a finger then moves the whole
    sheets.setPointerCapture(event.pointerId);
    follow(event);
  });
  sheets.addEventListener("pointermove", (event) => {
    if (sheets.hasPointerCapture(event.pointerId)) follow(event);
  });
  sheets.addEventListener("dragstart", (event) => event.preventDefault());
  show();
  fit();
}
