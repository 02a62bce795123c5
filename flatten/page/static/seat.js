// The seat in three dimensions: turned, moved and brought nearer by mouse, fingers or keys; coloured by what is asked.
import * as THREE from "./three/three.module.min.js";

export const VIEWS = [["panels", "Panels"], ["bare", "Bare"], ["padded", "Padded"], ["settled", "Settled"], ["pleated", "Pleated"], ["demand", "Leather"], ["crush", "Foam"]];
// The colours of the report: what is used of the leather, how far foam is crushed, how far the cover went down.
const USE = [[23, 55, 108], [98, 144, 196], [247, 246, 242], [235, 158, 92], [158, 63, 6]], OVER = [62, 8, 42];
const CRUSH = [[247, 242, 249], [202, 167, 214], [139, 77, 163]], CRUSHED = [52, 12, 70], NO_FOAM = [214, 214, 210];
const DOWN = [[243, 248, 241], [140, 190, 160], [10, 86, 66]];
const NOTHING = -32768;

export function readSeat(buffer) {
  const length = new DataView(buffer).getUint32(0, true), head = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, length)));
  const base = 4 + length;
  const take = (Kind, place) => new Kind(buffer, base + place[0], place[1]);
  const points = (place) => {
    const whole = take(Uint16Array, place), out = new Float32Array(whole.length);
    for (let k = 0; k < whole.length; k += 1) out[k] = head.low[k % 3] + whole[k] * head.step;
    return out;
  };
  for (const pad of head.pads) {
    for (const state of ["bare", "padded", "settled"]) pad[state] = points(pad[state]);
    pad.down = pad.down && take(Int16Array, pad.down);
    pad.crush = pad.crush && take(Int16Array, pad.crush);
    for (const panel of pad.panels) {
      panel.vertices = take(Uint32Array, panel.vertices); panel.triangles = take(Uint32Array, panel.triangles);
      panel.use = panel.use && take(Int16Array, panel.use);
    }
    pad.valleys = (pad.valleys || []).map((one) => take(Uint32Array, one));
    for (const seam of pad.seams) seam.path = take(Uint32Array, seam.path);
    for (const fold of pad.folds) fold.triangles = take(Uint32Array, fold.triangles);
    // All triangles of the pad in its own numbers: what a cut goes through.
    pad.faces = [];
    for (const panel of pad.panels) for (const k of panel.triangles) pad.faces.push(panel.vertices[k]);
    for (const fold of pad.folds) for (const k of fold.triangles) pad.faces.push(k);
    pad.inverse = new THREE.Matrix4().set(...pad.placement).invert();
  }
  return head;
}

function mixed(stops, share) {
  const at = Math.min(Math.max(share, 0), 1) * (stops.length - 1), k = Math.min(Math.floor(at), stops.length - 2), rest = at - k;
  return stops[k].map((c, n) => c + (stops[k + 1][n] - c) * rest);
}
const useColour = (use) => use > 1.001 ? OVER : mixed(USE, Math.max(-1, Math.min(use, 1)) / 2 + 0.5);
const crushColour = (value) => value === NOTHING ? NO_FOAM : value > 500 ? CRUSHED : mixed(CRUSH, value / 500);
export const css = (stops) => `linear-gradient(90deg, ${stops.map((c) => `rgb(${c.join()})`).join()})`;
export const KEYS = {
  demand: { stops: USE, words: ["fullness", "true length", "all it gives"], over: OVER, name: "used of what the leather gives" },
  crush: { stops: CRUSH, words: ["not at all", "", "by half: limit"], over: CRUSHED, name: "foam crushed" },
  settled: { stops: DOWN, words: ["0", "", "most"], name: "cover went down" },
};

export function canDraw() {
  try { const one = document.createElement("canvas"); return Boolean(one.getContext("webgl2")); } catch { return false; }
}

export class SeatView {
  constructor(onpick, onturn) {
    this.onpick = onpick; this.onturn = onturn || (() => {});
    this.renderer = new THREE.WebGLRenderer({ antialias: true, alpha: true, preserveDrawingBuffer: true });
    this.canvas = this.renderer.domElement;
    this.canvas.tabIndex = 0;
    this.canvas.setAttribute("role", "img");
    this.canvas.setAttribute("aria-label", "The seat. Arrow keys turn it, with shift they move it, plus and minus bring it nearer or farther, 0 sets it back.");
    this.scene = new THREE.Scene();
    this.camera = new THREE.PerspectiveCamera(30, 1, 10, 20000);
    this.camera.up.set(0, 0, 1);
    this.scene.add(new THREE.HemisphereLight(0xffffff, 0x8d8471, 2.1));
    const sun = new THREE.DirectionalLight(0xffffff, 1.7); sun.position.set(-1200, -1600, 2600); this.scene.add(sun);
    this.group = new THREE.Group(); this.scene.add(this.group);
    this.view = "panels"; this.lit = { panel: null, seam: null }; this.cut = null;
    this.angle = { a: -0.62, e: 0.5, d: 1600 }; this.target = new THREE.Vector3();
    this.hands();
    this.watch = new ResizeObserver(() => this.fit());
    this.watch.observe(this.canvas);
    this.canvas.addEventListener("webglcontextlost", (event) => event.preventDefault());
    this.canvas.addEventListener("webglcontextrestored", () => this.draw());
  }

  put(into) { into.prepend(this.canvas); this.fit(); }

  fit() {
    const box = this.canvas.parentElement; if (!box) return;
    const w = Math.max(box.clientWidth, 40), hgt = Math.max(box.clientHeight, 40);
    this.renderer.setPixelRatio(Math.min(devicePixelRatio || 1, 2));
    this.renderer.setSize(w, hgt, false);
    this.camera.aspect = w / hgt; this.camera.updateProjectionMatrix(); this.draw();
  }

  set(seat) {
    const first = !this.seat || this.seat.name !== seat.name;
    this.seat = seat; this.build();
    if (first) this.home(); else this.draw();
  }

  home() {
    const low = this.seat.low, high = this.seat.high;
    this.target.set((low[0] + high[0]) / 2, (low[1] + high[1]) / 2, (low[2] + high[2]) / 2);
    const size = Math.hypot(high[0] - low[0], high[1] - low[1], high[2] - low[2]);
    this.angle = { a: -0.62, e: 0.5, d: size / Math.min(1, this.camera.aspect) * 2.05 };
    this.draw();
  }

  show(view) { this.view = view; if (this.seat) { this.build(); this.draw(); } }

  build() {
    this.clear();
    const dark = getComputedStyle(document.documentElement).getPropertyValue("color-scheme").includes("dark");
    const line = dark ? 0x59666a : 0xcfc6b3;
    const size = Math.max(this.seat.high[0] - this.seat.low[0], this.seat.high[1] - this.seat.low[1]);
    const squares = Math.ceil(size * 1.5 / 200) * 2, grid = new THREE.GridHelper(squares * 100, squares, line, line);
    grid.rotation.x = Math.PI / 2; grid.position.set((this.seat.low[0] + this.seat.high[0]) / 2, (this.seat.low[1] + this.seat.high[1]) / 2, this.seat.low[2] - 2);
    grid.material.transparent = true; grid.material.opacity = 0.5;
    this.group.add(grid);
    const reach = Math.max(1, ...this.seat.pads.flatMap((pad) => pad.down ? [mostDown(pad.down)] : [1]));
    this.reach = reach / 100;
    for (const pad of this.seat.pads) this.pad(pad, reach);
    this.light();
  }

  clear() {
    for (const one of [...this.group.children]) { this.group.remove(one); if (one.geometry) one.geometry.dispose(); if (one.material) one.material.dispose(); }
    this.meshes = []; this.seams = [];
  }

  pad(pad, reach) {
    const state = this.view === "bare" ? "bare" : this.view === "padded" ? "padded" : "settled";
    const at = pad[state], normals = pad.on_frame ? smooth(at, pad.faces) : null;
    const map = this.view === "demand" || this.view === "crush" || this.view === "settled";
    const plainColour = this.view === "bare" ? 0xc3a983 : this.view === "pleated" ? 0xb98a5e : 0xe9d9aa;
    for (const panel of pad.panels) {
      const geometry = new THREE.BufferGeometry(), n = panel.vertices.length;
      const position = new Float32Array(3 * n), normal = new Float32Array(3 * n), colour = map ? new Float32Array(3 * n) : null;
      for (let k = 0; k < n; k += 1) {
        const v = panel.vertices[k];
        for (let c = 0; c < 3; c += 1) { position[3 * k + c] = at[3 * v + c]; if (normals) normal[3 * k + c] = normals[3 * v + c]; }
        if (map) {
          const rgb = this.view === "demand" ? useColour(panel.use ? panel.use[k] / 1000 : 0) : this.view === "crush" ? crushColour(pad.crush ? pad.crush[v] : NOTHING) : mixed(DOWN, pad.down ? -pad.down[v] / reach : 0);
          for (let c = 0; c < 3; c += 1) colour[3 * k + c] = linear(rgb[c] / 255);
        }
      }
      geometry.setAttribute("position", new THREE.BufferAttribute(position, 3));
      geometry.setIndex(new THREE.BufferAttribute(panel.triangles, 1));
      if (normals) geometry.setAttribute("normal", new THREE.BufferAttribute(normal, 3)); else geometry.computeVertexNormals();
      if (map) geometry.setAttribute("color", new THREE.BufferAttribute(colour, 3));
      const material = map ? new THREE.MeshLambertMaterial({ vertexColors: true, side: THREE.DoubleSide, emissive: 0xffffff, emissiveIntensity: 0 })
        : new THREE.MeshLambertMaterial({ color: this.view === "panels" ? panel.colour : plainColour, side: THREE.DoubleSide });
      const mesh = new THREE.Mesh(geometry, material);
      mesh.userData = { panel: panel.name };
      this.group.add(mesh); this.meshes.push(mesh);
    }
    this.folds(pad, at);
    if (state !== "settled") return;
    if (this.view === "pleated") for (const path of pad.valleys) this.group.add(new THREE.Mesh(tube(at, path, 1.1), new THREE.MeshLambertMaterial({ color: 0x4a3218 })));
    for (const seam of pad.seams) {
      const mesh = new THREE.Mesh(tube(at, seam.path, seam.welt ? 3.6 : 1.5), new THREE.MeshLambertMaterial({ color: seam.welt ? 0x6b5a45 : 0x4a4438 }));
      mesh.userData = { seam: seam.name, welt: seam.welt };
      this.group.add(mesh); this.seams.push(mesh);
    }
  }

  folds(pad, at) {
    for (const fold of pad.folds) {
      const geometry = new THREE.BufferGeometry();
      geometry.setAttribute("position", new THREE.BufferAttribute(at, 3));
      geometry.setIndex(new THREE.BufferAttribute(fold.triangles, 1)); geometry.computeVertexNormals();
      const like = pad.panels.find((one) => one.name === fold.panel);
      const mesh = new THREE.Mesh(geometry, new THREE.MeshLambertMaterial({ color: like && this.view === "panels" ? like.colour : 0xd9cdb4, side: THREE.DoubleSide }));
      mesh.userData = { panel: fold.panel }; this.group.add(mesh); this.meshes.push(mesh);
    }
  }

  light(panel = this.lit.panel, seam = this.lit.seam) {
    this.lit = { panel, seam };
    for (const one of this.meshes || []) { one.material.emissive.set(one.userData.panel === panel ? 0x9b4216 : 0x000000); one.material.emissiveIntensity = one.userData.panel === panel ? 0.35 : 0; }
    for (const one of this.seams || []) { const now = one.userData.seam === seam; one.material.color.set(now ? 0xd9601f : one.userData.welt ? 0x6b5a45 : 0x4a4438); one.scale.setScalar(1); one.material.emissive.set(now ? 0xd9601f : 0x000000); one.material.emissiveIntensity = now ? 0.7 : 0; }
    this.draw();
  }

  // The plane of the cut as a thin frame. axis: pad coordinates; place: mm.
  showCut(cut) {
    if (this.plane) { this.scene.remove(this.plane); this.plane.geometry.dispose(); this.plane.material.dispose(); this.plane = null; }
    if (cut && this.seat && cut.outline.length) {
      const geometry = new THREE.BufferGeometry(); geometry.setAttribute("position", new THREE.Float32BufferAttribute(cut.outline, 3));
      this.plane = new THREE.LineSegments(geometry, new THREE.LineBasicMaterial({ color: 0xd9601f, depthTest: false }));
      this.plane.renderOrder = 5; this.scene.add(this.plane);
    }
    this.draw();
  }

  draw() {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => {
      this.waiting = false;
      const { a, e, d } = this.angle;
      this.camera.position.set(this.target.x + d * Math.cos(e) * Math.sin(a), this.target.y - d * Math.cos(e) * Math.cos(a), this.target.z + d * Math.sin(e));
      this.camera.near = d / 50; this.camera.far = d * 6; this.camera.updateProjectionMatrix();
      this.camera.lookAt(this.target);
      this.renderer.render(this.scene, this.camera);
    });
  }

  turn(dx, dy) { this.angle.a -= dx; this.angle.e = Math.min(1.55, Math.max(-1.55, this.angle.e + dy)); this.draw(); }
  nearer(share) { this.angle.d = Math.min(20000, Math.max(120, this.angle.d * share)); this.draw(); }
  move(dx, dy) {
    const k = this.angle.d * 0.00095, right = new THREE.Vector3().setFromMatrixColumn(this.camera.matrix, 0), up = new THREE.Vector3().setFromMatrixColumn(this.camera.matrix, 1);
    this.target.addScaledVector(right, -dx * k).addScaledVector(up, dy * k); this.draw();
  }
  look(side) { const to = { front: [0, 0.25], corner: [-0.62, 0.5], side: [1.571, 0.12], rear: [3.1416, 0.35], top: [0, 1.55], under: [0, -1.2] }[side]; [this.angle.a, this.angle.e] = to; this.draw(); }

  hands() {
    const c = this.canvas, held = new Map();
    let gone = 0, gap = 0, middle = null;
    c.addEventListener("pointerdown", (e) => { c.setPointerCapture(e.pointerId); held.set(e.pointerId, [e.clientX, e.clientY]); if (held.size === 1) gone = 0; gap = 0; middle = null; c.focus({ preventScroll: true }); });
    c.addEventListener("pointermove", (e) => {
      const was = held.get(e.pointerId); if (!was) return;
      const dx = e.clientX - was[0], dy = e.clientY - was[1];
      held.set(e.pointerId, [e.clientX, e.clientY]); gone += Math.abs(dx) + Math.abs(dy);
      if (held.size === 1) { if (e.buttons & 2 || e.shiftKey) this.move(dx, dy); else this.turn(dx * 0.008, dy * 0.008); return; }
      const [p, q] = [...held.values()], now = Math.hypot(p[0] - q[0], p[1] - q[1]), centre = [(p[0] + q[0]) / 2, (p[1] + q[1]) / 2];
      if (gap) { this.nearer(gap / now); this.move(centre[0] - middle[0], centre[1] - middle[1]); }
      gap = now; middle = centre;
    });
    const end = (e) => { const only = held.size === 1; held.delete(e.pointerId); gap = 0; if (e.type === "pointerup" && only && gone < 8) this.pick(e); };
    c.addEventListener("pointerup", end); c.addEventListener("pointercancel", end);
    c.addEventListener("contextmenu", (e) => e.preventDefault());
    c.addEventListener("wheel", (e) => { e.preventDefault(); this.nearer(Math.exp(e.deltaY * 0.0012)); }, { passive: false });
    c.addEventListener("keydown", (e) => {
      const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[e.key];
      if (step) { e.preventDefault(); if (e.shiftKey) this.move(-step[0] * 30, -step[1] * 30); else this.turn(step[0] * 0.12, step[1] * 0.12); }
      else if (e.key === "+" || e.key === "=") this.nearer(0.88); else if (e.key === "-") this.nearer(1.14); else if (e.key === "0") this.home();
    });
  }

  pick(e) {
    const box = this.canvas.getBoundingClientRect(), at = new THREE.Vector2((e.clientX - box.left) / box.width * 2 - 1, 1 - (e.clientY - box.top) / box.height * 2);
    const ray = new THREE.Raycaster(); ray.setFromCamera(at, this.camera);
    const hit = ray.intersectObjects(this.meshes || [], false)[0];
    this.onpick(hit ? hit.object.userData.panel : null, { point: hit ? hit.point : null, x: e.clientX - box.left, y: e.clientY - box.top });
  }

  // Named places as knobs on the seat, and a tape as a cord over it; places: {at: [x, y, z], now}; line: x, y, z, ...
  marks(places, ...lines) {
    for (const one of this.marked || []) { this.scene.remove(one); one.geometry.dispose(); one.material.dispose(); }
    this.marked = [];
    const size = this.seat ? Math.hypot(...this.seat.high.map((v, c) => v - this.seat.low[c])) : 1000;
    for (const one of places || []) {
      const mesh = new THREE.Mesh(new THREE.SphereGeometry(size * (one.now ? 0.014 : 0.0095), 16, 12), new THREE.MeshLambertMaterial({ color: one.now ? 0xd9601f : 0x14595e, emissive: one.now ? 0xd9601f : 0x14595e, emissiveIntensity: 0.45 }));
      mesh.position.set(...one.at); this.marked.push(mesh);
    }
    for (const line of lines) if (line && line.length > 5) { const path = Array.from({ length: line.length / 3 }, (_, k) => k); this.marked.push(new THREE.Mesh(tube(line, path, size * 0.0042), new THREE.MeshLambertMaterial({ color: 0xd9601f, emissive: 0xd9601f, emissiveIntensity: 0.5 }))); }
    for (const one of this.marked) this.scene.add(one);
    this.draw();
  }

  // Which of some places is meant by a tap: the nearest on the seat, beside it the nearest seen within a thumb's width.
  nearestOf(places, where) {
    let best = null, least = where.point ? Infinity : 60;
    const box = this.canvas.getBoundingClientRect();
    places.forEach((at, k) => {
      const p = new THREE.Vector3(...at);
      let far;
      if (where.point) far = p.distanceTo(where.point);
      else { p.project(this.camera); far = Math.hypot((p.x + 1) / 2 * box.width - where.x, (1 - p.y) / 2 * box.height - where.y); }
      if (far < least) { least = far; best = k; }
    });
    return best;
  }

  gone() { this.watch.disconnect(); this.clear(); this.renderer.dispose(); }
}

const linear = (x) => x <= 0.04045 ? x / 12.92 : ((x + 0.055) / 1.055) ** 2.4;
function mostDown(down) { let most = 0; for (const one of down) if (one !== NOTHING && -one > most) most = -one; return most; }

function smooth(at, faces) {
  const out = new Float32Array(at.length);
  for (let k = 0; k < faces.length; k += 3) {
    const [a, b, c] = [faces[k] * 3, faces[k + 1] * 3, faces[k + 2] * 3];
    const ux = at[b] - at[a], uy = at[b + 1] - at[a + 1], uz = at[b + 2] - at[a + 2], vx = at[c] - at[a], vy = at[c + 1] - at[a + 1], vz = at[c + 2] - at[a + 2];
    const n = [uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx];
    for (const p of [a, b, c]) for (let i = 0; i < 3; i += 1) out[p + i] += n[i];
  }
  for (let k = 0; k < out.length; k += 3) { const l = Math.hypot(out[k], out[k + 1], out[k + 2]) || 1; out[k] /= l; out[k + 1] /= l; out[k + 2] /= l; }
  return out;
}

// A round cord along a line of vertices.
function tube(at, path, radius) {
  const n = path.length, round = 6, position = [], normal = [], index = [];
  const p = (k) => new THREE.Vector3(at[3 * path[k]], at[3 * path[k] + 1], at[3 * path[k] + 2]);
  let side = null;
  for (let k = 0; k < n; k += 1) {
    const along = p(Math.min(k + 1, n - 1)).sub(p(Math.max(k - 1, 0))).normalize();
    if (!side) side = Math.abs(along.z) < 0.9 ? new THREE.Vector3(0, 0, 1) : new THREE.Vector3(1, 0, 0);
    side = side.clone().addScaledVector(along, -side.dot(along)).normalize();
    const other = new THREE.Vector3().crossVectors(along, side), here = p(k);
    for (let r = 0; r < round; r += 1) {
      const t = 2 * Math.PI * r / round, d = side.clone().multiplyScalar(Math.cos(t)).addScaledVector(other, Math.sin(t));
      normal.push(d.x, d.y, d.z); position.push(here.x + d.x * radius, here.y + d.y * radius, here.z + d.z * radius);
      if (k < n - 1) { const a = k * round + r, b = k * round + (r + 1) % round; index.push(a, b, a + round, b, b + round, a + round); }
    }
  }
  const geometry = new THREE.BufferGeometry();
  geometry.setAttribute("position", new THREE.Float32BufferAttribute(position, 3)); geometry.setAttribute("normal", new THREE.Float32BufferAttribute(normal, 3)); geometry.setIndex(index);
  return geometry;
}
