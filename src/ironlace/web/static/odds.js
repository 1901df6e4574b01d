// Tells, while a report is typed, how it would move the odds. The bench reckons; nothing is kept.

const WAIT_MS = 250;

for (const form of document.querySelectorAll("form[data-odds-at]")) {
  const input = form.elements.namedItem("reads");
  const shown = document.getElementById(`${input.id}-odds`);
  let timer = 0;
  let asked = 0;
  const reckon = async () => {
    const mine = ++asked;
    const says = input.value.trim() ? await moved(form.dataset.oddsAt, input.value.trim()) : "";
    if (mine === asked) shown.textContent = says;
  };
  input.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(reckon, WAIT_MS);
  });
}

// A mark that does not read yet is told beside its field by the reading itself, so not again here.
async function moved(address, reads) {
  const url = new URL(address, location.href);
  url.searchParams.set("reads", reads);
  try {
    const response = await fetch(url, { headers: { accept: "application/json" } });
    return response.ok ? (await response.json()).says : "";
  } catch {
    return ""; // the bench is not running: the form itself will say so
  }
}
