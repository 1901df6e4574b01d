// Wipes between the flattened photograph and the drawing over it: by a slider, which keys move
// too, and by drawing the edge along on the picture itself.

for (const root of document.querySelectorAll("[data-wipe]")) {
  const sheets = root.querySelector(".wipe-sheets");
  const slider = root.querySelector('input[type="range"]');
  if (!slider) continue;
  root.classList.add("live");
  root.querySelector(".wipe-tool").hidden = false;
  root.querySelector(".wipe-edge").hidden = false;
  const show = () => sheets.style.setProperty("--cut", `${slider.value}%`);
  const follow = (event) => {
    const { left, width } = sheets.getBoundingClientRect();
    slider.value = String(((event.clientX - left) / width) * 100);
    show();
  };
  slider.addEventListener("input", show);
  sheets.addEventListener("pointerdown", (event) => {
    sheets.setPointerCapture(event.pointerId);
    follow(event);
  });
  sheets.addEventListener("pointermove", (event) => {
    if (sheets.hasPointerCapture(event.pointerId)) follow(event);
  });
  sheets.addEventListener("dragstart", (event) => event.preventDefault());
  show();
}
