// A plate lit anew as the torch moves. The surface is fetched once and lit by the graphics
// processor; where there is none, the server lights it and the picture is asked for again. The same
// light is worked out by the program for every view that is saved.

const root = document.querySelector("[data-plate]");
const frame = root.querySelector("[data-frame]");
const picture = root.querySelector("[data-picture]");
const canvas = root.querySelector("[data-canvas]");
const says = root.querySelector("[data-says]");
const save = root.querySelector("[data-save]");
const [azimuth, elevation, look] = ["azimuth", "elevation", "look"].map((n) => root.elements[n]);
const number = (name) => Number(root.dataset[name]);
const LOWEST = number("lowest");
const STEP = 0.06; // of the way from overhead to the horizon, for an arrow key
const FAR = 3; // times that with the shift key
const byTorch = () => look.value === "raking" || look.value === "relief";
// the torch exactly; the sliders show it to the degree
const torch = { azimuth: Number(azimuth.value), elevation: Number(elevation.value) };
let light = null; // lights the canvas, once the surface is there
let follows = true;
let asked = false;

const VERTEX = `attribute vec2 corner; varying vec2 at;
void main() { at = vec2(corner.x + 1.0, 1.0 - corner.y) / 2.0; gl_Position = vec4(corner, 0, 1); }`;
const FRAGMENT = `precision highp float;
uniform sampler2D slopes, skin; uniform vec3 to, halfway;
uniform float strength, exponent, gain, stained, unknown; varying vec2 at;
void main() {
  vec4 s = texture2D(slopes, at), k = texture2D(skin, at);
  vec2 across = vec2(s.r * 65280.0 + s.g * 255.0, s.b * 65280.0 + s.a * 255.0) / 32767.5 - 1.0;
  vec3 n = vec3(across, sqrt(max(1.0 - dot(across, across), 0.0)));
  float facing = dot(n, to);
  float sent = max(facing, 0.0);
  if (facing > 0.0) sent += strength * pow(max(dot(n, halfway), 0.001), exponent);
  sent = clamp(sent * gain * mix(1.0, 4.0 * k.r, stained), 0.0, 1.0);
  float grey = sent <= 0.0031308 ? 12.92 * sent : 1.055 * pow(sent, 1.0 / 2.4) - 0.055;
  gl_FragColor = vec4(vec3(k.g > 0.5 ? grey : unknown), 1.0);
}`;

const radians = (degrees) => (degrees * Math.PI) / 180;

// the place of the torch on a plan of the sky: overhead in the middle, lowest at the rim
const onPlan = () => {
  const out = (90 - torch.elevation) / (90 - LOWEST);
  const round = radians(torch.azimuth);
  return [out * Math.cos(round), out * Math.sin(round)];
};

const fromPlan = (x, y) => {
  const out = Math.min(Math.hypot(x, y), 1);
  if (out > 0.01) torch.azimuth = ((Math.atan2(y, x) * 180) / Math.PI + 360) % 360;
  torch.elevation = 90 - out * (90 - LOWEST);
  torch.azimuth = Math.round(torch.azimuth * 10) / 10;
  torch.elevation = Math.max(Math.round(torch.elevation * 10) / 10, LOWEST);
  azimuth.value = torch.azimuth;
  elevation.value = torch.elevation;
  if (!byTorch()) look.value = "raking";
  show();
};

const address = (extra) => {
  const query = new URLSearchParams({ look: look.value, ...torch, ...extra });
  return `${root.dataset.view}?${query}`;
};

const WAYS = ["right", "upper right", "top", "upper left", "left", "lower left", "bottom", "lower right"];
const words = () => {
  if (look.value === "curvature") return "Edges and hollows: hollow is dark, raised is light. No torch.";
  if (look.value === "depth") return "Depth below the metal round about: deeper is darker. No torch.";
  const from = WAYS[Math.round(torch.azimuth / 45) % 8];
  const where = torch.elevation > 85 ? "overhead" : `from the ${from}, ${torch.elevation.toFixed(0)}° high`;
  return `${look.value === "relief" ? "The form alone, torch" : "Torch"} ${where}${follows ? "" : ", held"}.`;
};

// one picture at a time is asked of the server; the last wish is granted last
let waiting = false;
let again = false;
const fromServer = () => {
  if (waiting) {
    again = true;
    return;
  }
  waiting = true;
  picture.src = address({ px: root.dataset.px });
};
const arrived = () => {
  waiting = false;
  if (again) {
    again = false;
    fromServer();
  }
};
picture.addEventListener("load", arrived);
picture.addEventListener("error", arrived);

const draw = () => {
  asked = false;
  const here = light !== null && byTorch();
  canvas.hidden = !here;
  picture.hidden = here;
  if (here) light();
  else fromServer();
};

const show = () => {
  const told = words();
  says.textContent = told;
  canvas.setAttribute("aria-label", told);
  picture.alt = told;
  save.href = address({ save: "yes" });
  for (const one of root.querySelectorAll("[data-preset]")) {
    const [wanted, a, e] = one.dataset.preset.split(",");
    const same = wanted === look.value && (!byTorch() || (Number(a) === torch.azimuth && Number(e) === torch.elevation));
    if (same) one.setAttribute("aria-current", "true");
    else one.removeAttribute("aria-current");
  }
  if (!asked) {
    asked = true;
    requestAnimationFrame(draw);
  }
};

const take = (preset) => {
  const [wanted, a, e] = preset.split(",");
  look.value = wanted;
  torch.azimuth = Number(a);
  torch.elevation = Number(e);
  azimuth.value = a;
  elevation.value = e;
  follows = false;
  frame.classList.add("holding");
  show();
};

function lighter(gl, planes) {
  const compiled = (type, text) => {
    const shader = gl.createShader(type);
    gl.shaderSource(shader, text);
    gl.compileShader(shader);
    return shader;
  };
  const program = gl.createProgram();
  gl.attachShader(program, compiled(gl.VERTEX_SHADER, VERTEX));
  gl.attachShader(program, compiled(gl.FRAGMENT_SHADER, FRAGMENT));
  gl.linkProgram(program);
  if (!gl.getProgramParameter(program, gl.LINK_STATUS)) return null;
  gl.useProgram(program);
  gl.bindBuffer(gl.ARRAY_BUFFER, gl.createBuffer());
  gl.bufferData(gl.ARRAY_BUFFER, new Float32Array([-1, -1, 3, -1, -1, 3]), gl.STATIC_DRAW);
  const corner = gl.getAttribLocation(program, "corner");
  gl.enableVertexAttribArray(corner);
  gl.vertexAttribPointer(corner, 2, gl.FLOAT, false, 0, 0);
  const at = (name) => gl.getUniformLocation(program, name);
  const size = canvas.width * canvas.height * 4;
  for (const [unit, name] of ["slopes", "skin"].entries()) {
    gl.activeTexture(gl.TEXTURE0 + unit);
    gl.bindTexture(gl.TEXTURE_2D, gl.createTexture());
    const plane = new Uint8Array(planes, unit * size, size);
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA, canvas.width, canvas.height, 0, gl.RGBA, gl.UNSIGNED_BYTE, plane);
    for (const side of [gl.TEXTURE_WRAP_S, gl.TEXTURE_WRAP_T]) gl.texParameteri(gl.TEXTURE_2D, side, gl.CLAMP_TO_EDGE);
    for (const way of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) gl.texParameteri(gl.TEXTURE_2D, way, gl.NEAREST);
    gl.uniform1i(at(name), unit);
  }
  gl.uniform1f(at("exponent"), number("exponent"));
  gl.uniform1f(at("unknown"), number("unknown") / 255);
  const [to, halfway, strength, gain, stained] = ["to", "halfway", "strength", "gain", "stained"].map(at);
  return () => {
    const [a, e] = [radians(torch.azimuth), radians(torch.elevation)];
    const way = [Math.cos(e) * Math.cos(a), Math.cos(e) * Math.sin(a), Math.sin(e)];
    const long = Math.hypot(way[0], way[1], way[2] + 1);
    const half = [way[0] / long, way[1] / long, (way[2] + 1) / long];
    const shines = look.value === "raking" ? number("strength") : 0;
    const upright = Math.max(way[2], number("least")) + shines * half[2] ** number("exponent");
    gl.uniform3fv(to, way);
    gl.uniform3fv(halfway, half);
    gl.uniform1f(strength, shines);
    gl.uniform1f(gain, number("exposed") / upright);
    gl.uniform1f(stained, look.value === "raking" ? 1 : 0);
    gl.drawArrays(gl.TRIANGLES, 0, 3);
  };
}

async function begin() {
  const gl = canvas.getContext("webgl", { preserveDrawingBuffer: true, antialias: false });
  if (!gl || gl.getParameter(gl.MAX_TEXTURE_SIZE) < Math.max(canvas.width, canvas.height)) return;
  canvas.addEventListener("webglcontextlost", () => {
    light = null;
    show();
  });
  const answer = await fetch(root.dataset.surface);
  if (!answer.ok) return;
  const planes = await answer.arrayBuffer();
  if (planes.byteLength !== canvas.width * canvas.height * 8) return;
  light = lighter(gl, planes);
  root.dataset.lit = light ? "here" : "there";
  show();
}

frame.tabIndex = 0;
frame.setAttribute("role", "group");
frame.setAttribute("aria-label", "The plate under the torch: arrow keys move it, 1 to 8 choose a look");
frame.classList.add("live");
if (canvas.width < 1000) frame.classList.add("small-plate");
canvas.setAttribute("role", "img");
root.querySelector("[data-show]").hidden = true;
root.querySelector("[data-hint]").hidden = false;

frame.addEventListener("pointermove", (event) => {
  if (!follows || event.pointerType === "touch") return; // a finger scrolls; the sliders serve it
  const { left, top, width, height } = (canvas.hidden ? picture : canvas).getBoundingClientRect();
  fromPlan(((event.clientX - left) / width) * 2 - 1, 1 - ((event.clientY - top) / height) * 2);
});
frame.addEventListener("click", () => {
  follows = !follows;
  frame.classList.toggle("holding", !follows);
  show();
});
frame.addEventListener("keydown", (event) => {
  const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
  if (way && !event.ctrlKey && !event.altKey && !event.metaKey) {
    event.preventDefault();
    const step = STEP * (event.shiftKey ? FAR : 1);
    const [x, y] = onPlan();
    fromPlan(x + way[0] * step, y + way[1] * step);
  }
});
// presets by their numbers, but not while something is typed
root.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey || event.target === look) return;
  const preset = root.querySelector(`[aria-keyshortcuts="${CSS.escape(event.key)}"]`);
  if (preset) take(preset.dataset.preset);
});
root.addEventListener("click", (event) => {
  const preset = event.target.closest("[data-preset]");
  if (!preset) return;
  event.preventDefault();
  take(preset.dataset.preset);
});
for (const slider of [azimuth, elevation]) {
  slider.addEventListener("input", () => {
    torch.azimuth = Number(azimuth.value) % 360;
    torch.elevation = Number(elevation.value);
    if (!byTorch()) look.value = "raking";
    follows = false;
    frame.classList.add("holding");
    show();
  });
}
look.addEventListener("change", show);
root.addEventListener("submit", (event) => event.preventDefault());
show();
begin();
