// Asks for those parts of a page that take long, one after the other, and says that it is at work.
// Without a script the link that stands in each place leads to the same.

const places = [...document.querySelectorAll("[data-later]")];
const links = new Map(places.map((place) => [place, [...place.childNodes]]));

function says(words) {
  const line = document.createElement("p");
  line.className = "soft";
  line.append(words);
  return line;
}

async function fill(place) {
  const sign = says(`${place.dataset.doing} `);
  sign.setAttribute("role", "status");
  const bar = document.createElement("progress");
  bar.setAttribute("aria-label", place.dataset.doing);
  sign.append(bar);
  place.replaceChildren(sign);
  try {
    const response = await fetch(place.dataset.later);
    if (!response.ok) throw new Error(response.statusText);
    const parsed = new DOMParser().parseFromString(await response.text(), "text/html");
    place.replaceChildren(...parsed.body.childNodes);
  } catch {
    place.replaceChildren(says("The bench gave no answer to this."), ...links.get(place));
  }
}

for (const place of places.slice(1)) place.replaceChildren(says("Waits for the answer before it."));
for (const place of places) await fill(place);
