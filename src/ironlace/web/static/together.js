// Ticks all photographs of the list beneath the button, or none when all are ticked.

const button = document.querySelector("#tick-all");
if (button) {
  button.hidden = false;
  button.addEventListener("click", () => {
    const list = button.closest("form").querySelector(".together");
    const boxes = [...list.querySelectorAll('input[name="photograph"]')];
    const tick = boxes.some((box) => !box.checked);
    for (const box of boxes) box.checked = tick;
  });
}
