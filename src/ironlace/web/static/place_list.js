// Places touched on a photograph, each with a row of words beside it: what an oiling plan, a
// threading plan and the list of what touches the machine have in common. The rows are what is
// sent; without a script they are filled in by figures.

import { Picture } from "./picture.js";

const SVG = "http://www.w3.org/2000/svg";

export class PlaceList {
  // called: what a place is named; asks: what is to be said of a new one, and in which field;
  // onAdded and onSet are told of a row; onDraw draws the signs, in the frame's own pixels
  constructor({ called, asks, first, onAdded = () => {}, onSet = () => {}, onDraw }) {
    Object.assign(this, { called, asks, first, onAdded, onSet, onDraw });
    const root = document.querySelector("[data-picking]");
    this.picture = new Picture(root.querySelector("[data-picture]"));
    this.shown = root.dataset.shown ?? "";
    this.list = document.querySelector("[data-points]");
    this.blank = document.querySelector("[data-blank]");
    this.told = document.querySelector("[data-told]");
    this.choices = root.querySelector(".picking");
    this.chosen = null; // the row whose place a touch moves
    this.choices.hidden = false;
    this.marks = document.createElementNS(SVG, "svg");
    this.marks.setAttribute("class", "picture-marks thread-marks");
    this.marks.setAttribute("aria-hidden", "true");
    this.cross = document.createElement("span");
    this.cross.className = "picture-cross";
    this.picture.frame.append(this.marks, this.cross);
    this.listen();
    for (const row of this.rows) row.querySelector(".thread-moves").hidden = false;
    document.querySelector("[data-another]").closest("p").hidden = true;
  }

  begin() {
    this.attend();
    this.numbered();
  }

  get rows() {
    return [...this.list.querySelectorAll("[data-point]")];
  }

  field(row, name) {
    return row.querySelector(`[name="${name}"]`);
  }

  // where a row's place lies in the frame; null where it has none
  placeOf(row) {
    const [x, y] = ["x_px", "y_px"].map((name) => {
      const typed = this.field(row, name).value.trim();
      return typed ? Number(typed.replace(",", ".")) : NaN;
    });
    if (!Number.isFinite(x) || !Number.isFinite(y)) return null;
    return [x * this.picture.scale + this.picture.x, y * this.picture.scale + this.picture.y];
  }

  touched({ x, y }) {
    const moving = this.choices.querySelector("input:checked").value === "move";
    const row = moving && this.chosen ? this.chosen : this.added();
    this.field(row, "x_px").value = x.toFixed(1);
    this.field(row, "y_px").value = y.toFixed(1);
    row.querySelector("[data-where]").textContent = this.shown || "on the picture";
    this.onSet(row);
    this.choose(row);
    const number = this.rows.indexOf(row) + 1;
    this.told.textContent = moving ? `${this.called} ${number} moved.` : `${this.called} ${number} set: ${this.asks}.`;
    if (!moving) this.field(row, this.first).focus();
  }

  added() {
    const row = this.blank.content.firstElementChild.cloneNode(true);
    const last = this.rows.at(-1);
    this.list.append(row);
    row.querySelector(".thread-moves").hidden = false;
    this.onAdded(row, last);
    this.numbered();
    return row;
  }

  numbered() {
    this.rows.forEach((row, n) => {
      row.id = `p-${n + 1}`;
      row.querySelector("[data-number]").textContent = String(n + 1);
    });
    this.draw();
  }

  choose(row) {
    this.chosen?.classList.remove("chosen");
    this.chosen = row;
    this.chosen?.classList.add("chosen");
    this.draw();
  }

  listen() {
    this.list.addEventListener("focusin", (event) => {
      const row = event.target.closest("[data-point]");
      if (row && row !== this.chosen) this.choose(row);
    });
    this.list.addEventListener("input", () => this.draw());
    this.list.addEventListener("click", (event) => {
      const move = event.target.dataset?.move;
      if (move) this.moved(event.target, move);
    });
    this.choices.addEventListener("change", () => this.attend());
    this.picture.onChange = () => this.draw();
  }

  moved(button, move) {
    const row = button.closest("[data-point]");
    const at = this.rows.indexOf(row) + 1;
    if (move === "earlier" && row.previousElementSibling) row.previousElementSibling.before(row);
    else if (move === "later" && row.nextElementSibling) row.nextElementSibling.after(row);
    else if (move === "away") {
      const next = row.nextElementSibling ?? row.previousElementSibling;
      row.remove();
      this.choose(next);
      (next ?? this.picture.frame).focus();
      this.told.textContent = `${this.called} ${at} taken away.`;
    }
    this.numbered();
    if (move === "away") return;
    button.focus();
    this.told.textContent = `Now ${this.called.toLowerCase()} ${this.rows.indexOf(row) + 1}.`;
  }

  attend() {
    const what = this.choices.querySelector("input:checked").value;
    this.picture.onTouch = what ? (place) => this.touched(place) : null;
    this.picture.frame.classList.toggle("picks", Boolean(what));
    this.cross.hidden = !what;
  }

  draw() {
    this.marks.replaceChildren();
    this.onDraw(this);
  }

  shape(name, look, attributes) {
    const sign = document.createElementNS(SVG, name);
    sign.setAttribute("class", look);
    for (const [key, value] of Object.entries(attributes)) sign.setAttribute(key, String(value));
    this.marks.append(sign);
    return sign;
  }

  // a number in a field of its own
  badge(x, y, words, { r = 11, look = "" } = {}) {
    this.shape("circle", `thread-place${look}`, { cx: x, cy: y, r });
    this.shape("text", "thread-number", { x, y: y + 5 }).textContent = words;
  }

  // a shape at a place, and a leader to its number, so that shape and number stay apart
  led(row, n, at, d) {
    const transform = `translate(${at[0]} ${at[1]})`;
    this.shape("path", "thread-halo", { d, transform });
    this.shape("path", `thread-place${row === this.chosen ? " chosen" : ""}`, { d, transform });
    const [x, y] = [at[0] + 24, at[1] - 18];
    this.shape("path", "thread-line", { d: `M${at[0] + 8} ${at[1] - 6}L${x - 8} ${y + 6}` });
    this.badge(x, y, String(n + 1));
  }
}
