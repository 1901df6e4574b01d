// Sends chosen or dropped photographs one by one, each with its own progress, and tells what came
// of each. Without this script the form sends them all at once.

for (const form of document.querySelectorAll("form[data-one-by-one]")) prepare(form);

function prepare(form) {
  const list = form.querySelector(".taken");
  const drop = form.querySelector(".drop");
  const inputs = [...form.querySelectorAll('input[type="file"]')];
  const token = form.elements.token.value;

  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const files = inputs.flatMap((input) => [...input.files]);
    if (files.length) send(files);
    else inputs[0].focus();
  });
  for (const kind of ["dragenter", "dragover"]) {
    drop.addEventListener(kind, (event) => {
      event.preventDefault();
      drop.classList.add("over");
    });
  }
  drop.addEventListener("dragleave", () => drop.classList.remove("over"));
  drop.addEventListener("drop", (event) => {
    event.preventDefault();
    drop.classList.remove("over");
    if (event.dataTransfer.files.length) send([...event.dataTransfer.files]);
  });

  async function send(files) {
    const button = form.querySelector("button");
    button.disabled = true;
    list.replaceChildren();
    const names = [];
    let wrong = 0;
    for (const file of files) {
      const line = lineFor(file);
      list.append(line.item);
      const answer = await put(file, line.bar);
      line.bar.remove();
      if (answer.error) {
        wrong += 1;
        line.words.textContent = answer.error.says;
        line.item.classList.add("amiss");
      } else {
        names.push(answer.name);
        if (answer.again) wrong += 1;
        const link = document.createElement("a");
        link.href = answer.at;
        link.textContent = answer.name;
        line.words.textContent = answer.again
          ? `${file.name} was here already, and was not taken in twice: `
          : `${file.name} is kept as `;
        line.words.append(link);
      }
    }
    for (const input of inputs) input.value = "";
    button.disabled = false;
    if (wrong === 0) {
      const back = form.elements.back?.value === "machine" ? location.pathname : form.dataset.after;
      location.assign(`${back}?${new URLSearchParams({ kept: names.slice(-40).join(",") })}`);
    }
  }

  function put(file, bar) {
    const query = new URLSearchParams({
      came_as: file.name,
      role: form.elements.role.value,
      caption: form.elements.caption.value,
      credit: form.elements.credit.value,
      rights: form.elements.rights.value,
      not_published: form.elements.not_published.checked ? "yes" : "",
    });
    return new Promise((resolve) => {
      const request = new XMLHttpRequest(); // fetch cannot tell how far an upload has come
      request.open("PUT", `${form.dataset.oneByOne}?${query}`);
      request.setRequestHeader("x-ironlace-token", token);
      request.setRequestHeader("accept", "application/json");
      request.setRequestHeader("content-type", "application/octet-stream");
      request.upload.addEventListener("progress", (event) => {
        if (event.lengthComputable) bar.value = event.loaded / event.total;
      });
      request.addEventListener("loadend", () => {
        try {
          resolve(JSON.parse(request.responseText));
        } catch {
          const says = `${file.name} did not get through: see that the bench is running, and send it again.`;
          resolve({ error: { says } });
        }
      });
      request.send(file);
    });
  }
}

function lineFor(file) {
  const item = document.createElement("li");
  const words = document.createElement("span");
  words.textContent = `${file.name} on its way`;
  const bar = document.createElement("progress");
  bar.max = 1;
  bar.value = 0;
  bar.setAttribute("aria-label", file.name);
  item.append(words, bar);
  return { item, words, bar };
}
