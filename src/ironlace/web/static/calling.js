// Large keys for a reading called out at the bench. What they write is sent as it stands: the
// computer reads figures and words alike, and keeps the reading before it asks for the next.

const form = document.querySelector("#call");

if (form) {
  const number = form.querySelector("#f-number");
  let into = number; // the field that was touched last

  for (const one of form.querySelectorAll("[data-needs-script]")) one.hidden = false;
  for (const field of form.querySelectorAll("[data-keyed]")) {
    field.addEventListener("focus", () => {
      into = field;
      if (field !== number) field.select(); // a key then writes over what was proposed
    });
  }
  form.querySelector(".keys").addEventListener("click", (event) => {
    const key = event.target.value;
    if (!key || !event.target.classList.contains("key")) return;
    const all = into.selectionStart === 0 && into.selectionEnd === into.value.length;
    into.value = key === "-" ? turned(into.value) : (all ? "" : into.value) + key;
    into.setSelectionRange(into.value.length, into.value.length);
  });
  form.querySelector("[data-wipe]").addEventListener("click", () => {
    into.value = into.value.slice(0, -1);
  });
  form.querySelector("[data-voice]").addEventListener("click", () => {
    into.inputMode = "text"; // the phone's own keyboard, which also hears
    into.blur();
    into.focus();
  });
  let sent = false;
  form.addEventListener("submit", (event) => {
    if (sent) event.preventDefault(); // a second touch is no second reading
    sent = true;
  });
  addEventListener("pageshow", () => {
    sent = false;
  });
}

function turned(text) {
  return text.startsWith("-") ? text.slice(1) : `-${text}`;
}
