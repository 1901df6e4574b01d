// Ticks all photographs of the leaf, or none when all are ticked.

const button = document.querySelector("#tick-all");
if (button) {
  button.hidden = false;
  button.addEventListener("click", () => {
    const boxes = [...document.querySelectorAll('input[name="photograph"]')];
    const tick = boxes.some((box) => !box.checked);
    for (const box of boxes) box.checked = tick;
  });
}
