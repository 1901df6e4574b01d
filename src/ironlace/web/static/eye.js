// How a drawing in mm is seen in a frame: which part of it, and how near.

export const STEP = 1.4; // how much nearer one press brings it
const FARTHEST = 0.6; // of the whole
const NEAREST = 400; // pixels to the mm

export class Eye {
  constructor(frame) {
    this.frame = frame;
    this.scale = 1; // pixels to the mm
    this.x = 0;
    this.y = 0;
    this.onChange = () => {};
    new ResizeObserver(() => this.bounds && (this.isWhole ? this.whole() : this.onChange())).observe(frame);
  }

  // what is to be seen: left, top, right and bottom of the drawing
  of(bounds) {
    this.bounds = bounds;
    this.whole();
  }

  get box() {
    return this.frame.getBoundingClientRect();
  }

  get fitting() {
    const { width, height } = this.box;
    const [left, top, right, bottom] = this.bounds;
    return Math.min(width / (right - left), height / (bottom - top));
  }

  toScreen([x, y]) {
    return [x * this.scale + this.x, y * this.scale + this.y];
  }

  toMm(x, y) {
    return [(x - this.x) / this.scale, (y - this.y) / this.scale];
  }

  whole() {
    const [left, top, right, bottom] = this.bounds;
    this.scale = this.fitting;
    this.centre((left + right) / 2, (top + bottom) / 2);
    this.seen(true);
  }

  nearer(by, x = this.box.width / 2, y = this.box.height / 2) {
    const scale = Math.min(Math.max(this.scale * by, this.fitting * FARTHEST), NEAREST);
    this.x = x - ((x - this.x) * scale) / this.scale;
    this.y = y - ((y - this.y) * scale) / this.scale;
    this.scale = scale;
    this.seen(false);
  }

  move(byX, byY) {
    this.x += byX;
    this.y += byY;
    this.seen(false);
  }

  // brings a place into the middle, so near that some millimetres about it fill the frame
  lookAt([x, y], mm = 12) {
    const { width, height } = this.box;
    this.scale = Math.max(this.scale, Math.min(width, height) / (2 * mm));
    this.centre(x, y);
    this.seen(false);
  }

  centre(x, y) {
    const { width, height } = this.box;
    this.x = width / 2 - x * this.scale;
    this.y = height / 2 - y * this.scale;
  }

  seen(isWhole) {
    this.isWhole = isWhole;
    this.onChange();
  }
}
