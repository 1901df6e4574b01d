// The phone at the bench. What is taken is first held in the phone's own store (IndexedDB) under a
// key made for it alone, then sent, oldest first; it leaves the store only when the computer has
// answered. Sent twice because an answer was lost, it is kept once: the key tells.

const door = document.querySelector("#door");
const HOLD_MS = 4000; // a reading can be taken back for so long before it goes
const LOOK_MS = 4000; // between two looks whether the computer is there
const SHOWN = 20; // lines of what was taken

const joining = document.querySelector("#join");
const store = await opened();

function opened() {
  return new Promise((resolve) => {
    const asked = indexedDB.open("ironlace-phone", 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("waiting", { keyPath: "key" });
      asked.result.createObjectStore("bytes", { keyPath: "key" }); // apart: they fill the memory
      asked.result.createObjectStore("done", { keyPath: "key" });
    };
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => resolve(null); // told below; then nothing can wait
  });
}

function within(names, mode, act) {
  return new Promise((resolve, reject) => {
    const transaction = store.transaction(names, mode);
    const asked = act(...names.map((name) => transaction.objectStore(name)));
    transaction.oncomplete = () => resolve(asked?.result);
    transaction.onerror = transaction.onabort = () => reject(transaction.error);
  });
}

const all = (name) => within([name], "readonly", (kept) => kept.getAll());
const put = (name, item) => within([name], "readwrite", (kept) => kept.put(item));
const bytesOf = (key) => within(["bytes"], "readonly", (bytes) => bytes.get(key));
const begin = (item, bytes) =>
  within(["waiting", "bytes"], "readwrite", (waiting, kept) => {
    if (bytes) kept.put({ key: item.key, bytes });
    waiting.put(item);
  });
const forget = (key, done) =>
  within(["waiting", "bytes", "done"], "readwrite", (waiting, bytes, kept) => {
    waiting.delete(key);
    bytes.delete(key);
    if (done) kept.put(done);
  });
const dropDone = (key) => within(["done"], "readwrite", (kept) => kept.delete(key));

async function join() {
  const code = location.hash.slice(1);
  const says = document.querySelector("#waiting-here");
  if (store) {
    const waiting = await all("waiting");
    says.hidden = waiting.length === 0;
    says.textContent = `${waiting.length} ${waiting.length === 1 ? "thing waits" : "things wait"} here from before, and will go once this phone is joined.`;
  }
  if (!code) return;
  history.replaceState(null, "", location.pathname); // the code is used once and stays nowhere
  joining.elements.code.value = code;
  joining.requestSubmit();
}

async function work() {
  const at = door.dataset;
  const net = document.querySelector("#net");
  const trouble = document.querySelector("#trouble");
  const list = document.querySelector("#sent");
  const lines = new Map();
  let target = { key: at.for, machine: at.machine };
  let there = false;
  let shutOut = false;
  let sending = false;
  let waiting = [];
  let done = [];

  if (!store) {
    fault("This browser holds nothing for a page (a private window?): open it in an ordinary one.");
    return;
  }
  waiting = (await all("waiting")).sort((a, b) => a.made - b.made || a.turn - b.turn);
  done = (await all("done")).sort((a, b) => b.made - a.made || b.turn - a.turn).slice(0, SHOWN);
  let turn = Math.max(0, ...waiting.map((item) => item.turn), ...done.map((item) => item.turn));
  show();
  ways();
  photographs();
  readings();
  addEventListener("beforeunload", (event) => {
    if (waiting.length && !shutOut) event.preventDefault();
  });
  addEventListener("online", look);
  addEventListener("offline", () => told(false));
  document.addEventListener("visibilitychange", () => document.hidden || look());
  document.querySelector("#leave").addEventListener("submit", (event) => {
    if (waiting.length) {
      event.preventDefault();
      fault("Something still waits here: let it go first, or throw it away.");
    }
  });
  setInterval(look, LOOK_MS);
  await look();

  // --- whether the computer is there -------------------------------------------------------

  async function look() {
    if (shutOut) return;
    let answer;
    try {
      answer = await ask(at.state);
    } catch {
      told(false);
      return;
    }
    if (answer.status === 401 || answer.status === 410) {
      shutOut = true;
      told(false);
      fault(answer.body.error.says, true);
      return;
    }
    if (answer.status !== 200) {
      told(false);
      return;
    }
    const { for: key, machine, wanted, motion } = answer.body;
    document.querySelector("#to-motion").hidden = !motion;
    if (key !== target.key || machine !== target.machine) {
      target = { key, machine };
      document.querySelector(".door-for").textContent = machine;
      document.querySelector("h1").textContent = `For ${machine}`;
      show();
    }
    offer(wanted);
    told(true);
    send();
  }

  function told(now) {
    there = now;
    net.classList.toggle("there", now);
    const number = waiting.length;
    const waits = number ? `${number} ${number === 1 ? "waits" : "wait"}` : "";
    const words = shutOut
      ? "Not joined"
      : now
        ? "Joined to the computer"
        : "The computer cannot be reached";
    const says = [words, waits].filter(Boolean).join(". ");
    if (net.textContent !== says) net.textContent = says;
  }

  async function ask(address, options = {}) {
    const headers = { accept: "application/json", ...options.headers };
    const stop = new AbortController();
    const late = setTimeout(() => stop.abort(), options.patience ?? 8000);
    try {
      const { signal } = stop;
      const answer = await fetch(address, { ...options, headers, signal, redirect: "error" });
      return { status: answer.status, body: await answer.json() };
    } finally {
      clearTimeout(late);
    }
  }

  function fault(says, rejoin = false) {
    trouble.hidden = false;
    trouble.querySelector("p").textContent = says;
    trouble.querySelector("a").hidden = !rejoin;
  }

  // --- what waits, and its sending ---------------------------------------------------------

  async function hold(item, bytes) {
    const whole = {
      key: freshKey(),
      made: Date.now(),
      turn: ++turn,
      for: target.key,
      machine: target.machine,
      ...item,
    };
    try {
      await begin(whole, bytes);
    } catch {
      says("");
      fault(`${item.label} could not be held on this phone, which has no room left for it: let what waits go first.`);
      return;
    }
    waiting.push(whole);
    show();
    told(there);
    setTimeout(send, Math.max(0, (whole.notBefore ?? 0) - Date.now()));
  }

  async function send() {
    if (sending || shutOut) return;
    sending = true;
    try {
      for (let item = next(); item && there; item = next()) {
        const answer = await one(item);
        if (!answer) {
          item.going = false;
          item.part = 0;
          told(false);
          break;
        }
        await settle(item, answer);
        if (shutOut) break;
      }
    } finally {
      sending = false;
      show();
      told(there);
    }
  }

  function next() {
    const now = Date.now();
    const item = waiting.find((one) => !one.refused && one.for === target.key);
    if (!item) return undefined;
    if ((item.notBefore ?? 0) <= now) {
      item.going = true; // can no longer be taken back
      return item;
    }
    setTimeout(send, item.notBefore - now + 5);
    return undefined;
  }

  function one(item) {
    show();
    return item.sort === "photograph" ? sendPhotograph(item) : sendReading(item);
  }

  async function sendReading(item) {
    try {
      return await ask(`${at.reading}?${new URLSearchParams({ for: item.for })}`, {
        method: "POST",
        headers: { "content-type": "application/json", "x-ironlace-key": item.key },
        body: JSON.stringify(item.told),
        patience: 20000,
      });
    } catch {
      return undefined;
    }
  }

  async function sendPhotograph(item) {
    const { bytes } = (await bytesOf(item.key)) ?? {};
    const query = new URLSearchParams({ for: item.for, came_as: item.label });
    return new Promise((resolve) => {
      const request = new XMLHttpRequest(); // fetch cannot tell how far an upload has come
      request.open("PUT", `${at.photograph}?${query}`);
      request.setRequestHeader("accept", "application/json");
      request.setRequestHeader("content-type", "application/octet-stream");
      request.setRequestHeader("x-ironlace-key", item.key);
      let moved = Date.now();
      const watch = setInterval(() => {
        if (Date.now() - moved > 45000) request.abort();
      }, 5000);
      request.upload.addEventListener("progress", (event) => {
        moved = Date.now();
        item.part = event.lengthComputable ? event.loaded / event.total : 0;
        line(item);
      });
      request.addEventListener("loadend", () => {
        clearInterval(watch);
        try {
          resolve({ status: request.status, body: JSON.parse(request.responseText) });
        } catch {
          resolve(undefined);
        }
      });
      request.send(bytes);
    });
  }

  async function settle(item, { status, body }) {
    item.going = false;
    item.part = 0;
    if (status === 200) {
      trouble.hidden = true;
      const kept = {
        key: item.key,
        made: item.made,
        turn: item.turn,
        label: item.label,
        says: body.again ? `was there already, as ${body.name}` : `kept as ${body.name}`,
      };
      if (body.reads) kept.label = body.reads;
      await forget(item.key, kept);
      waiting = waiting.filter((one) => one !== item);
      done.unshift(kept);
      for (const old of done.splice(SHOWN)) await dropDone(old.key);
    } else if (status === 401 || status === 410) {
      shutOut = true;
      fault(body.error.says, true);
    } else if (status >= 500) {
      there = false; // it is tried again at the next look
      fault(body.error.says);
    } else {
      item.refused = body.error.says;
      await put("waiting", plain(item));
    }
  }

  const plain = ({ going, part, ...item }) => item;

  // --- what was taken, in words ------------------------------------------------------------

  function show() {
    const items = [...[...waiting].reverse(), ...done].slice(0, Math.max(SHOWN, waiting.length));
    const keys = new Set(items.map((item) => item.key));
    for (const [key, shown] of lines) {
      if (!keys.has(key)) {
        shown.remove();
        lines.delete(key);
      }
    }
    items.forEach((item, place) => {
      const shown = line(item);
      if (list.children[place] !== shown) list.insertBefore(shown, list.children[place] ?? null);
    });
    document.querySelector("#held").hidden = waiting.length === 0;
  }

  function line(item) {
    let shown = lines.get(item.key);
    if (!shown) {
      shown = document.createElement("li");
      shown.append(document.createElement("b"), document.createElement("span"));
      shown.lastChild.className = "came";
      lines.set(item.key, shown);
    }
    const elsewhere = !item.says && item.for !== target.key;
    shown.firstChild.textContent = item.label;
    shown.classList.toggle("amiss", Boolean(item.refused) || elsewhere);
    shown.querySelector(".came").textContent = item.says
      ? item.says
      : item.refused
        ? item.refused
        : elsewhere
          ? `Taken for ${item.machine}: it goes when the computer turns to that one.`
          : item.going
            ? item.part
              ? `on its way, ${Math.round(item.part * 100)} %`
              : "on its way"
            : "waits";
    const wanted = item.says || item.going
      ? []
      : elsewhere
        ? ["It belongs to this one", "Throw it away"]
        : [item.sort === "reading" && !item.refused ? "Take it back" : "Throw it away"];
    const have = [...shown.querySelectorAll("button")].map((button) => button.textContent);
    if (have.join() !== wanted.join()) {
      for (const button of shown.querySelectorAll("button")) button.remove();
      for (const words of wanted) {
        const button = document.createElement("button");
        button.type = "button";
        button.className = "second";
        button.textContent = words;
        button.addEventListener("click", () => (words.startsWith("It") ? here(item) : away(item)));
        shown.append(button);
      }
    }
    return shown;
  }

  async function away(item) {
    if (item.going) return;
    waiting = waiting.filter((one) => one !== item);
    await forget(item.key);
    show();
    told(there);
    if (item.sort === "reading" && !item.refused) {
      document.querySelector("#f-number").value = item.told.number;
      says("Taken back: put it right, or leave it.");
    }
  }

  async function here(item) {
    item.for = target.key;
    item.machine = target.machine;
    await put("waiting", plain(item));
    show();
    send();
  }

  // --- photographs -------------------------------------------------------------------------

  function ways() {
    const buttons = ["photographs", "readings"].map((name) => document.querySelector(`#show-${name}`));
    for (const button of buttons) {
      button.addEventListener("click", () => {
        for (const other of buttons) {
          other.setAttribute("aria-pressed", String(other === button));
          document.querySelector(`#${other.getAttribute("aria-controls")}`).hidden = other !== button;
        }
      });
    }
  }

  function photographs() {
    for (const input of document.querySelectorAll('input[type="file"]')) {
      input.addEventListener("change", async () => {
        const files = [...input.files];
        for (const file of files) {
          let bytes;
          try {
            bytes = await file.arrayBuffer(); // a copy: the camera's own may be gone by then
          } catch {
            fault(`${file.name} could not be read: take it again.`);
            continue;
          }
          await hold({ sort: "photograph", label: file.name || "photograph" }, bytes);
        }
        input.value = "";
      });
    }
  }

  // --- readings ----------------------------------------------------------------------------

  function offer(wanted) {
    const keys = document.querySelector("#wanted-keys");
    if ([...keys.children].map((key) => key.value).join("\n") === wanted.join("\n")) return;
    const choices = document.querySelector("#wanted");
    keys.replaceChildren();
    choices.replaceChildren();
    for (const thing of wanted) {
      const key = document.createElement("button");
      key.type = "button";
      key.className = "second";
      key.value = key.textContent = thing;
      keys.append(key);
      const choice = document.createElement("option");
      choice.value = thing;
      choices.append(choice);
    }
  }

  function says(words, amiss = false) {
    const place = document.querySelector("#number-says");
    place.textContent = words;
    place.classList.toggle("amiss", amiss);
  }

  function readings() {
    const about = document.querySelector("#about");
    const form = document.querySelector("#number-form");
    const field = (name) => document.querySelector(`#f-${name}`);
    const number = field("number");
    const how = document.querySelector("#how");
    const last = document.querySelector("#about-fault");

    document.querySelector("#wanted-keys").addEventListener("click", (event) => {
      if (event.target.value) {
        field("what").value = event.target.value;
        field("unit").focus();
      }
    });
    const asksHow = () => {
      how.hidden = field("instrument").value.trim() !== "";
    };
    field("instrument").addEventListener("input", asksHow);
    asksHow();
    about.addEventListener("submit", (event) => {
      event.preventDefault();
      asksHow();
      if (!how.hidden && !field("grade").value) {
        last.textContent = "Say with what it is read, or how else you know it.";
        field("instrument").focus();
        return;
      }
      last.textContent = "";
      document.querySelector("#now-what").textContent = field("what").value.trim();
      document.querySelector("#now-how").textContent = [
        field("error").value.trim() && `± ${field("error").value.trim()}`,
        how.hidden ? field("instrument").value.trim() : field("grade").value,
      ].filter(Boolean).join(", ");
      document.querySelector("#now-unit").textContent = field("unit").value.trim();
      about.hidden = true;
      document.querySelector("#reading").hidden = false;
      number.value = "";
      says("");
      number.focus();
    });
    document.querySelector("#change-about").addEventListener("click", () => {
      document.querySelector("#reading").hidden = true;
      about.hidden = false;
      field("what").focus();
    });
    document.querySelector(".keys").addEventListener("click", (event) => {
      const key = event.target.value;
      if (key === undefined) return;
      if (key === "back") number.value = number.value.slice(0, -1);
      else number.value += key;
      says("");
    });
    document.querySelector("#by-voice").addEventListener("click", () => {
      number.inputMode = "text";
      number.blur();
      number.focus();
      says("Call the number out, or type it, with the phone’s own keyboard.");
    });
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const text = number.value.trim();
      if (!text) {
        says("There is no number yet: press the keys, or call it out.", true);
        return;
      }
      // what is plain figures needs no reading; words are first shown as figures, if that can be
      if (!/^[-−]?\d+(?:\.\d+)?$/.test(text) && there) {
        let answer;
        try {
          answer = await ask(`${at.reads}?${new URLSearchParams({ number: text })}`);
        } catch {
          told(false);
        }
        if (answer?.status === 200 && answer.body.reads !== text) {
          // what was called out is kept with it, when it is these figures that are then kept
          number.dataset.called = text;
          number.dataset.as = answer.body.reads;
          number.value = answer.body.reads;
          says(`“${text}” is taken for ${answer.body.reads}. Press Keep again if that is right.`);
          return;
        }
        if (answer && answer.status !== 200) {
          says(answer.body.error.says, true);
          return;
        }
      }
      const called = number.dataset.as === text ? number.dataset.called : text;
      number.dataset.called = number.dataset.as = number.value = ""; // at once: the next may follow
      number.focus();
      says(`${text} ${field("unit").value.trim()} is taken. Now the next.`);
      await hold({
        sort: "reading",
        label: `${field("what").value.trim()}: ${text} ${field("unit").value.trim()}`,
        notBefore: Date.now() + HOLD_MS,
        told: {
          what: field("what").value.trim(),
          number: called,
          unit: field("unit").value.trim(),
          error: field("error").value.trim(),
          instrument: field("instrument").value.trim(),
          grade: how.hidden ? "" : field("grade").value,
        },
      });
    });
  }
}

function freshKey() {
  // randomUUID is for encrypted pages only
  return [...crypto.getRandomValues(new Uint8Array(16))]
    .map((byte) => byte.toString(16).padStart(2, "0"))
    .join("");
}

if (joining) await join();
else if (door) await work();
