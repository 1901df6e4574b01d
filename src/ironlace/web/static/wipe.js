// Wipes between the flattened photograph and the drawing over it: by a slider, which keys move
// too, and by drawing the edge along on the picture itself. Both can be looked at larger.

const MOST = 8;

for (const root of document.querySelectorAll("[data-wipe]")) {
  const sheets = root.querySelector(".wipe-sheets");
  const slider = root.querySelector('input[type="range"]');
  if (!slider) continue;
  root.classList.add("live");
  root.querySelector(".wipe-tool").hidden = false;
  root.querySelector(".wipe-edge").hidden = false;
  let larger = 1;
  root.addEventListener("click", (event) => {
    const what = event.target.closest("[data-do]")?.dataset.do;
    if (what === "through") root.classList.toggle("through", event.target.checked);
    if (what !== "larger" && what !== "smaller") return;
    larger = Math.min(Math.max(what === "larger" ? larger * 1.5 : larger / 1.5, 1), MOST);
    sheets.style.setProperty("--larger", String(larger));
    root.classList.toggle("roams", larger > 1);
  });
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
}
