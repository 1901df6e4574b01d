// Shows under a field how a mark, a date or a quantity reads as written, while it is written.
// The bench does the reading, so that what is shown is what will be kept.

const WAIT_MS = 250;

for (const input of document.querySelectorAll("input[data-reads-as]")) {
  const shown = document.getElementById(`${input.id}-reads`);
  let timer = 0;
  let asked = 0;
  const read = async () => {
    const text = input.value.trim();
    const mine = ++asked;
    if (!text) {
      shown.replaceChildren();
      return;
    }
    const query = new URLSearchParams({ sort: input.dataset.readsAs, text });
    let answer;
    try {
      const response = await fetch(`${input.dataset.readingAt}?${query}`, {
        headers: { accept: "application/json" },
      });
      answer = await response.json();
    } catch {
      shown.replaceChildren(); // the bench is not running: the form itself will say so
      return;
    }
    if (mine !== asked) return;
    shown.classList.toggle("amiss", "error" in answer);
    shown.replaceChildren(...("error" in answer ? [words(answer.error.says)] : told(answer)));
  };
  input.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(read, WAIT_MS);
  });
  read();
}

function told(answer) {
  const glyphs = (answer.glyphs ?? []).map((glyph) => {
    const box = document.createElement("span");
    box.className = `glyph glyph-${glyph.kind}${glyph.doubtful ? " doubtful" : ""}`;
    box.textContent = glyph.shows;
    box.setAttribute("aria-hidden", "true");
    return box;
  });
  return [...glyphs, words(`Reads: ${answer.says}`)];
}

function words(text) {
  const line = document.createElement("span");
  line.className = "as-read-words";
  line.textContent = text;
  return line;
}
