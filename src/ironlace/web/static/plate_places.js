// Points at the digits and gaps of a plate on its picture. The table in the reading's form is what
// is sent and what is drawn from: typed or pointed at, it is the same table, which counts from 0.
// What is shown counts from 1.

const SVG = "http://www.w3.org/2000/svg";
const HEADS = ["kind", "row", "index", "x_px", "y_px", "height_px"];
const LEAST = 16; // pixels of a digit's height, as the reading asks
const root = document.querySelector("[data-plate]");
const panel = document.querySelector("[data-pointing]");
const table = document.querySelector("#f-places");
if (root && panel && table) start();

function start() {
  const frame = root.querySelector("[data-frame]");
  const size = { x: Number(panel.dataset.columns), y: Number(panel.dataset.rows) };
  const toggle = root.querySelector("[data-point]");
  const tall = panel.querySelector("[data-tall]");
  const told = panel.querySelector("[data-told]");
  const drawn = document.createElementNS(SVG, "svg");
  drawn.setAttribute("class", "places-drawn");
  drawn.setAttribute("aria-hidden", "true");
  frame.append(drawn);
  let on = false;
  let chosen = null; // a place
  let dragged = false;
  let rows = []; // of { digits: [place], gaps: [place] }; a place is { kind, x, y, tall }

  const height = () => Math.max(Number(tall.value) || 0, LEAST);
  const inside = (value, most) => Math.min(Math.max(value, 0), most - 1);
  const all = () => rows.flatMap((row) => [...row.digits, ...row.gaps].sort((a, b) => a.x - b.x));
  const rowOf = (place) => rows.find((row) => row.digits.includes(place) || row.gaps.includes(place));
  const middle = (a, b) => ({ kind: "gap", x: (a.x + b.x) / 2, y: (a.y + b.y) / 2, tall: a.tall, between: true });
  const before = (row, gap) => row.digits.filter((one) => one.x <= gap.x).length - 1;

  function fromTable() {
    rows = [];
    chosen = null;
    const lines = table.value.trim().split(/\r?\n/).filter((line) => line.trim());
    const heads = (lines.shift() ?? "").toLowerCase().split(",").map((one) => one.trim());
    const at = HEADS.map((name) => heads.indexOf(name));
    if (at.includes(-1)) return;
    const read = new Map();
    for (const line of lines) {
      const cells = line.split(",").map((one) => one.trim());
      const [row, , x, y, high] = at.slice(1).map((n) => Number(cells[n]));
      const kind = cells[at[0]]?.toLowerCase();
      if (![row, x, y, high].every(Number.isFinite) || !["digit", "gap"].includes(kind)) continue;
      if (!read.has(row)) read.set(row, { digits: [], gaps: [] });
      read.get(row)[`${kind}s`].push({ kind, x, y, tall: high });
    }
    rows = [...read.entries()].sort(([a], [b]) => a - b).map(([, row]) => row);
    const first = rows.flatMap((row) => row.digits)[0];
    if (first) tall.value = Math.round(first.tall);
    order();
  }

  function order() {
    rows = rows.filter((row) => row.digits.length);
    for (const row of rows) {
      row.digits.sort((a, b) => a.x - b.x);
      // one gap after each digit but the last; what lies beyond has no digits to stand between
      row.gaps = row.digits.slice(0, -1).flatMap((_, n) => row.gaps.filter((gap) => before(row, gap) === n).slice(-1));
    }
    const level = (row) => row.digits.reduce((sum, one) => sum + one.y, 0) / row.digits.length;
    rows.sort((a, b) => level(a) - level(b));
    if (chosen && !rowOf(chosen)) chosen = null;
  }

  function toTable() {
    const cell = (value) => String(Math.round(value * 10) / 10);
    const lines = rows.flatMap((row, number) => [
      ...row.digits.map((one, index) => ["digit", number, index, cell(one.x), cell(one.y), cell(one.tall)].join(",")),
      ...row.gaps.map((one) => ["gap", number, before(row, one), cell(one.x), cell(one.y), cell(one.tall)].join(",")),
    ]);
    table.value = lines.length ? `${[HEADS.join(","), ...lines].join("\n")}\n` : "";
    draw();
  }

  function add(kind, x, y) {
    const place = { kind, x: inside(x, size.x), y: inside(y, size.y), tall: height() };
    const away = (row) => Math.abs(row.digits.toSorted((a, b) => Math.abs(a.x - x) - Math.abs(b.x - x))[0].y - y);
    let row = rows.filter((one) => away(one) < 0.8 * height()).sort((a, b) => away(a) - away(b))[0];
    if (kind === "gap") {
      if (!row || before(row, place) < 0 || before(row, place) >= row.digits.length - 1) {
        told.textContent = "A gap lies between two digits of a row: point at the digits first.";
        return;
      }
      row.gaps = [...row.gaps.filter((gap) => before(row, gap) !== before(row, place)), place];
    } else {
      if (!row) rows.push((row = { digits: [], gaps: [] }));
      row.digits.push(place);
      row.digits.sort((a, b) => a.x - b.x);
      betweenAgain(row, place);
    }
    chosen = place;
    order();
    toTable();
  }

  // the gaps on both sides of a digit, midway unless a person moved them
  function betweenAgain(row, digit) {
    const n = row.digits.indexOf(digit);
    for (const [a, b] of [[n - 1, n], [n, n + 1]].map((pair) => pair.map((k) => row.digits[k]))) {
      if (!a || !b) continue;
      const there = row.gaps.filter((gap) => gap.x > a.x && gap.x < b.x);
      if (there.some((gap) => !gap.between)) continue;
      row.gaps = [...row.gaps.filter((gap) => !there.includes(gap)), middle(a, b)];
    }
  }

  function take(place) {
    const row = rowOf(place);
    if (!row) return;
    const list = all();
    const next = list[list.indexOf(place) + 1] ?? list[list.indexOf(place) - 1] ?? null;
    if (place.kind === "gap") row.gaps = row.gaps.filter((one) => one !== place);
    else {
      const n = row.digits.indexOf(place);
      const [a, b] = [row.digits[n - 1], row.digits[n + 1]];
      row.gaps = row.gaps.filter((gap) => gap.x < (a?.x ?? place.x) || gap.x > (b?.x ?? place.x));
      row.digits.splice(n, 1);
      if (a && b) row.gaps.push(middle(a, b));
    }
    chosen = next;
    order();
    toTable();
  }

  function move(place, x, y) {
    const row = rowOf(place);
    if (!row) return;
    place.x = inside(x, size.x);
    place.y = inside(y, size.y);
    if (place.kind === "gap") place.between = false;
    else {
      const near = row.gaps.filter((gap) => gap.between);
      row.gaps = row.gaps.filter((gap) => !gap.between);
      row.digits.sort((a, b) => a.x - b.x);
      for (const gap of near) {
        const n = Math.max(Math.min(before(row, gap), row.digits.length - 2), 0);
        if (row.digits.length > 1) row.gaps.push(middle(row.digits[n], row.digits[n + 1]));
      }
    }
    order();
    toTable();
  }

  function named(place) {
    const row = rowOf(place);
    const which =
      place.kind === "digit"
        ? `digit ${row.digits.indexOf(place) + 1} of ${row.digits.length}`
        : `gap after digit ${before(row, place) + 1}`;
    return `Row ${rows.indexOf(row) + 1}, ${which}, at ${Math.round(place.x)}, ${Math.round(place.y)} px`;
  }

  function draw() {
    drawn.toggleAttribute("hidden", !on);
    frame.classList.toggle("pointing", on);
    for (const one of panel.querySelectorAll("[data-move]")) one.disabled = !chosen;
    const digits = rows.reduce((sum, row) => sum + row.digits.length, 0);
    const gaps = rows.reduce((sum, row) => sum + row.gaps.length, 0);
    const many = `${rows.length} ${rows.length === 1 ? "row" : "rows"}, ${digits} digits, ${gaps} gaps.`;
    told.textContent = chosen ? `${named(chosen)}. ${many}` : digits ? many : "Point at the first digit of a row.";
    if (!on) return;
    const shown = [...frame.querySelectorAll("canvas, img")].find((one) => !one.hidden);
    const [box, around] = [shown.getBoundingClientRect(), frame.getBoundingClientRect()];
    drawn.style.left = `${box.left - around.left - frame.clientLeft}px`;
    drawn.style.top = `${box.top - around.top - frame.clientTop}px`;
    drawn.style.width = `${box.width}px`;
    drawn.style.height = `${box.height}px`;
    drawn.setAttribute("viewBox", `0 0 ${box.width} ${box.height}`);
    const scale = box.width / size.x;
    drawn.replaceChildren();
    for (const row of rows) {
      for (const place of [...row.gaps, ...row.digits]) {
        const [x, y, high] = [(place.x + 0.5) * scale, (place.y + 0.5) * scale, place.tall * scale];
        const is = place === chosen ? " chosen" : "";
        if (place.kind === "digit") {
          const wide = 0.62 * high;
          twice("rect", is, { x: x - wide / 2, y: y - high / 2, width: wide, height: high });
          label(String(row.digits.indexOf(place) + 1), x, y - high / 2 - 4, is);
        } else {
          twice("circle", is, { cx: x, cy: y, r: Math.max(0.11 * high, 3) });
          if (is) label(String(before(row, place) + 1), x, y + high / 2 + 13, is);
        }
      }
      const first = row.digits[0];
      const left = Math.max((first.x + 0.5) * scale - 0.31 * first.tall * scale - 6, 12);
      if (rows.length > 1) label(`row ${rows.indexOf(row) + 1}`, left, (first.y + 0.5) * scale + 4, " at-left");
    }
  }

  function shape(name, kind, attributes, text = "") {
    const one = document.createElementNS(SVG, name);
    one.setAttribute("class", kind);
    for (const [key, value] of Object.entries(attributes)) one.setAttribute(key, value);
    one.textContent = text;
    drawn.append(one);
  }

  // dark beneath light: seen on bright metal and on black
  function twice(name, is, attributes) {
    shape(name, `place-halo${is}`, attributes);
    shape(name, `place-line${is}`, attributes);
  }

  function label(text, x, y, is) {
    shape("text", `place-text-halo${is}`, { x, y }, text);
    shape("text", `place-text${is}`, { x, y }, text);
  }

  function under(event) {
    const shown = [...frame.querySelectorAll("canvas, img")].find((one) => !one.hidden);
    const { left, top, width, height: down } = shown.getBoundingClientRect();
    return [((event.clientX - left) / width) * size.x - 0.5, ((event.clientY - top) / down) * size.y - 0.5];
  }

  function hit(x, y) {
    const reach = (place) => (place.kind === "digit" ? 0.3 : 0.18) * place.tall;
    const far = (place) => Math.hypot(place.x - x, place.y - y) / reach(place);
    return all().filter((place) => far(place) < 1).sort((a, b) => far(a) - far(b))[0] ?? null;
  }

  function step(by) {
    const list = all();
    if (!list.length) return;
    chosen = list[(list.indexOf(chosen) + by + list.length) % list.length];
    draw();
  }

  function addNext() {
    const row = chosen ? rowOf(chosen) : rows.at(-1);
    const digits = row?.digits ?? [];
    const last = digits.at(-1);
    const apart = digits.length > 1 ? last.x - digits.at(-2).x : 1.2 * height();
    if (last && last.x + apart > size.x - 1) told.textContent = "There is no room to the right of the last digit.";
    else add("digit", last ? last.x + apart : size.x / 2, last ? last.y : size.y / 2);
  }

  const WAYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
  const DO = {
    next: () => step(1),
    previous: () => step(-1),
    add: addNext,
    away: () => chosen && take(chosen),
    none: () => {
      rows = [];
      order();
      toTable();
    },
    left: () => nudge("ArrowLeft", 2),
    right: () => nudge("ArrowRight", 2),
    up: () => nudge("ArrowUp", 2),
    down: () => nudge("ArrowDown", 2),
  };
  function nudge(key, by) {
    if (chosen) move(chosen, chosen.x + by * WAYS[key][0], chosen.y + by * WAYS[key][1]);
  }

  function turn(wanted) {
    on = wanted;
    toggle.setAttribute("aria-expanded", String(on));
    toggle.textContent = on ? "Done: back to the torch" : "Point at digits and gaps";
    panel.hidden = !on;
    root.classList.toggle("points", on);
    if (on) fromTable();
    draw();
    if (on) frame.focus({ preventScroll: true });
  }

  // before the torch sees them: while places are pointed at, it stands still
  const first = (kind, then) => frame.addEventListener(kind, (event) => on && then(event), { capture: true });
  first("click", (event) => {
    event.stopImmediatePropagation();
    if (dragged) {
      dragged = false;
      return;
    }
    const [x, y] = under(event);
    const there = hit(x, y);
    if (there) {
      chosen = there;
      draw();
    } else if (x > -1 && y > -1 && x < size.x && y < size.y) {
      add(panel.querySelector("[data-kind]:checked").value, x, y);
    }
  });
  let held = null;
  first("pointerdown", (event) => {
    if (event.pointerType === "touch") return; // a finger scrolls; taps and buttons serve it
    held = hit(...under(event));
    dragged = false;
  });
  first("pointermove", (event) => {
    event.stopImmediatePropagation();
    if (!held || !event.buttons) return;
    const [x, y] = under(event);
    if (!dragged && Math.hypot(held.x - x, held.y - y) < 0.08 * held.tall) return;
    dragged = true;
    chosen = held;
    move(held, x, y);
  });
  window.addEventListener("pointerup", () => (held = null));
  first("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    const by = event.shiftKey ? 10 : 1;
    const doing =
      WAYS[event.key] ? () => nudge(event.key, by)
      : { Enter: DO.add, Delete: DO.away, Backspace: DO.away, PageDown: DO.next, PageUp: DO.previous, Escape: () => turn(false) }[event.key];
    if (!doing) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    doing();
    if (event.key === "Escape") toggle.focus();
  });
  panel.addEventListener("click", (event) => DO[event.target.closest("[data-do]")?.dataset.do]?.());
  tall.addEventListener("input", () => {
    if (Number(tall.value) < LEAST) return;
    for (const place of all()) place.tall = height();
    toTable();
  });
  // the height typed is no field of the form that moves the torch
  tall.addEventListener("keydown", (event) => event.stopPropagation());
  table.addEventListener("input", () => {
    fromTable();
    draw();
  });
  root.querySelector("[data-point-line]").hidden = false;
  toggle.addEventListener("click", () => turn(!on));
  new ResizeObserver(draw).observe(frame);
  new MutationObserver(draw).observe(root.querySelector("[data-picture]"), { attributes: true, attributeFilter: ["hidden"] });
  for (const one of document.querySelectorAll("[data-point-here]")) {
    one.hidden = false;
    one.addEventListener("click", () => {
      turn(true);
      root.scrollIntoView({ block: "start" });
    });
  }
}
