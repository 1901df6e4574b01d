// Outlines as rings of cubics, each `[x, y, x, y, x, y, x, y]` in mm: places on them, their bending
// under a finger, and the area they enclose. Nothing here knows of a page.

export const ring = (curves) =>
  `M${curves[0][0]} ${curves[0][1]}` + curves.map((c) => `C${c.slice(2).join(" ")}`).join("") + "Z";

export const pointAt = (path, i) => path.curves[i].slice(0, 2);
export function slackOf(path, i) {
  const before = path.curves[(i + path.curves.length - 1) % path.curves.length];
  return [
    ["out", path.curves[i].slice(2, 4)],
    ["in", before.slice(4, 6)],
  ];
}

export function pointOn(c, t) {
  const s = 1 - t;
  const [a, b, d, e] = [s * s * s, 3 * s * s * t, 3 * s * t * t, t * t * t];
  return [a * c[0] + b * c[2] + d * c[4] + e * c[6], a * c[1] + b * c[3] + d * c[5] + e * c[7]];
}

// what the page shows while a finger moves; the bench's answer takes its place
export function bent(path, grip, [x, y]) {
  const curves = path.curves.map((c) => [...c]);
  const n = curves.length;
  if (grip.what === "node") {
    const [c, b] = [curves[grip.node], curves[(grip.node + n - 1) % n]];
    const [dx, dy] = [x - c[0], y - c[1]];
    c[0] += dx; c[1] += dy; c[2] += dx; c[3] += dy;
    b[4] += dx; b[5] += dy; b[6] = c[0]; b[7] = c[1];
  } else if (grip.what === "slack") {
    if (grip.side === "out") [curves[grip.node][2], curves[grip.node][3]] = [x, y];
    else [curves[(grip.node + n - 1) % n][4], curves[(grip.node + n - 1) % n][5]] = [x, y];
  } else {
    const c = curves[grip.curve];
    const at = pointOn(c, grip.t);
    const s = 1 - grip.t;
    const [a, b] = [3 * s * s * grip.t, 3 * s * grip.t * grip.t];
    const all = a * a + b * b;
    const [dx, dy] = [x - at[0], y - at[1]];
    c[2] += (a / all) * dx; c[3] += (a / all) * dy;
    c[4] += (b / all) * dx; c[5] += (b / all) * dy;
  }
  return { ...path, curves };
}

// twice the area that a cubic sweeps from the origin, exactly; holes run the other way round
const swept = ([ax, ay, bx, by, cx, cy, dx, dy]) =>
  (6 * (ax * by - bx * ay) + 3 * (ax * cy - cx * ay) + (ax * dy - dx * ay) + 3 * (bx * cy - cx * by) + 3 * (bx * dy - dx * by) + 6 * (cx * dy - dx * cy)) / 10;
export const areaOf = (path) => path.curves.reduce((sum, c) => sum + swept(c), 0) / 2;
