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

// The browser itself reads the answer as a document: no text is turned into a page by this script.
function read(address) {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    request.open("GET", address);
    request.responseType = "document";
    request.addEventListener("load", () => {
      if (request.status === 200 && request.response) resolve(request.response);
      else reject(new Error(request.statusText));
    });
    request.addEventListener("error", () => reject(new Error("no answer")));
    request.send();
  });
}

async function fill(place) {
  const sign = says(`${place.dataset.doing} `);
  sign.setAttribute("role", "status");
  const bar = document.createElement("progress");
  bar.setAttribute("aria-label", place.dataset.doing);
  sign.append(bar);
  place.replaceChildren(sign);
  try {
    place.replaceChildren(...(await read(place.dataset.later)).body.childNodes);
  } catch {
    place.replaceChildren(says("The bench gave no answer to this."), ...links.get(place));
  }
}

for (const place of places.slice(1)) place.replaceChildren(says("Waits for the answer before it."));
for (const place of places) await fill(place);
