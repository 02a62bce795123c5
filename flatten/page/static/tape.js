// Drawings of where the tape goes. They follow what is typed; the tape in question is the warm, thick line.
import { s } from "./dom.js";
import { shown } from "./lengths.js";

const W = 460, H = 430;
const r1 = (x) => Math.round(x * 10) / 10;
const point = ([x, y]) => `${r1(x)} ${r1(y)}`;

// A polygon (drawing coordinates) with rounded corners, as a path.
export function rounded(points, radii) {
  const n = points.length;
  let d = "";
  for (let k = 0; k < n; k += 1) {
    const a = points[(k + n - 1) % n], b = points[k], c = points[(k + 1) % n];
    const u = unit(a, b), v = unit(c, b);
    const angle = Math.acos(Math.max(-1, Math.min(1, u[0] * v[0] + u[1] * v[1])));
    const most = 0.49 * Math.min(dist(a, b), dist(b, c));
    const cut = Math.min(radii[k] / Math.tan(angle / 2) || 0, most);
    const from = [b[0] + u[0] * cut, b[1] + u[1] * cut], to = [b[0] + v[0] * cut, b[1] + v[1] * cut];
    d += `${k ? "L" : "M"}${point(from)}`;
    d += cut > 0.3 ? `Q${point(b)} ${point(to)}` : `L${point(b)}`;
  }
  return d + "Z";
}
const dist = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);
function unit(a, b) { const l = dist(a, b) || 1; return [(a[0] - b[0]) / l, (a[1] - b[1]) / l]; }

// One tape between two places, with its figure; `out` moves it off the work.
function tape(draw, id, a, b, mm, out = [0, 0]) {
  const now = draw.now === id;
  const p = [a[0] + out[0], a[1] + out[1]], q = [b[0] + out[0], b[1] + out[1]];
  const u = unit(q, p), t = [-u[1] * 8, u[0] * 8];
  const g = s("g", null);
  if (out[0] || out[1]) g.append(s("path", { class: "d-thin", d: `M${point(a)}L${point(p)}M${point(b)}L${point(q)}` }));
  g.append(s("path", { class: `d-tape${now ? " now" : ""}`, d: `M${point(p)}L${point(q)}M${point([p[0] + t[0], p[1] + t[1]])}L${point([p[0] - t[0], p[1] - t[1]])}M${point([q[0] + t[0], q[1] + t[1]])}L${point([q[0] - t[0], q[1] - t[1]])}` }));
  const figure = mm === null || mm === undefined ? "?" : shown(mm, draw.unit);
  const middle = [(p[0] + q[0]) / 2, (p[1] + q[1]) / 2];
  const away = out[0] || out[1] ? [Math.sign(out[0]) * 38, Math.sign(out[1]) * 18] : [0, 0];
  if (now || mm !== null) g.append(s("text", { class: `d-num${now ? " now" : ""}`, x: r1(middle[0] + away[0]), y: r1(middle[1] + away[1] + 6) }, figure));
  draw.last.push(g);
  return g;
}

function frame(draw, label) {
  return s("svg", { viewBox: `0 0 ${W} ${H}`, role: "img", "aria-label": label, preserveAspectRatio: "xMidYMid meet" }, draw.first, draw.last);
}

export function planDrawing(values, now, unit, kind) {
  const draw = { now, unit, first: [], last: [] };
  const v = (key) => values[`outline.${key}`] ?? null;
  const shape = values["outline.shape"] || (values["closed.form"] === "roll" ? "round" : null);
  const upright = kind === "backrest" || kind === "side";
  const words = (text, x, y) => draw.last.push(s("text", { class: "d-word", x, y }, text));
  if (shape === "round" || shape === "d" || shape === "kidney") return shaped(draw, shape, v, words);
  const F = v("front_width") ?? v("rear_width") ?? 480, R = v("rear_width") ?? F, D = v("depth") ?? 440;
  const scale = Math.min(236 / Math.max(F, R, 1), 265 / Math.max(D, 1));
  const cx = W / 2, y0 = H / 2 + D * scale / 2, y1 = H / 2 - D * scale / 2;
  const corner = { fl: [cx - F * scale / 2, y0], fr: [cx + F * scale / 2, y0], rr: [cx + R * scale / 2, y1], rl: [cx - R * scale / 2, y1] };
  const radius = Math.min(Math.max(v("corner_radius") ?? 0, 0) * scale, 0.45 * Math.min(F, R, D) * scale);
  draw.first.push(s("path", { class: "d-shape", d: rounded([corner.fl, corner.fr, corner.rr, corner.rl], [radius, radius, radius, radius]) }));
  if (now === "pleats" || values["pleats.count"]) {
    const count = Math.min(Math.max(Math.round(values["pleats.count"] || 8), 2), 60);
    let d = "";
    for (let k = 1; k < count; k += 1) {
      const share = k / count - 0.5;
      d += `M${point([cx + F * scale * share, y0])}L${point([cx + R * scale * share, y1])}`;
    }
    draw.first.push(s("path", { class: now === "pleats" ? "d-tape now" : "d-thin", d }));
  }
  draw.first.push(s("path", { class: "d-centre", d: `M${cx} ${r1(y1 - 16)}V${r1(y0 + 16)}` }));
  if (now === "diagonal_left" || v("diagonal_left") !== null) tape(draw, "diagonal_left", corner.fl, corner.rr, v("diagonal_left"));
  if (now === "diagonal_right" || v("diagonal_right") !== null) tape(draw, "diagonal_right", corner.fr, corner.rl, v("diagonal_right"));
  if (now === "middle_width" || v("middle_width") !== null) {
    const m = (v("middle_width") ?? (F + R) / 2) * scale / 2;
    tape(draw, "middle_width", [cx - m, (y0 + y1) / 2], [cx + m, (y0 + y1) / 2], v("middle_width"));
  }
  tape(draw, "front_width", corner.fl, corner.fr, v("front_width"), [0, 26]);
  tape(draw, "rear_width", corner.rl, corner.rr, v("rear_width"), [0, -26]);
  const side = Math.max(corner.fr[0], corner.rr[0]);
  tape(draw, "depth", [side, y1], [side, y0], v("depth"), [26, 0]);
  const big = now === "corner_radius";
  if (radius > 2 || big) {
    const c = [corner.fl[0] + radius * 0.98, y0 - radius];
    draw.last.push(s("path", { class: `d-tape${big ? " now" : ""}`, d: `M${point(c)}L${point([c[0] - radius * 0.71, c[1] + radius * 0.71])}` }));
    draw.last.push(s("text", { class: `d-num${big ? " now" : ""}`, x: r1(corner.fl[0] - 8), y: r1(y0 + 24), "text-anchor": "end" }, v("corner_radius") === null ? "?" : "r " + shown(v("corner_radius"), unit)));
  }
  words(upright ? "top" : "rear", cx, r1(y1 - 56));
  words(upright ? "bottom" : "front, towards you", cx, r1(y0 + 72));
  return frame(draw, "The plan with the tape");
}

function shaped(draw, shape, v, words) {
  const width = v("width") ?? 360, depth = v("depth") ?? width;
  const scale = Math.min(250 / width, 265 / depth), a = width * scale / 2, b = depth * scale / 2, cx = W / 2, cy = H / 2;
  const paths = {
    round: `M${point([cx - a, cy])}A${r1(a)} ${r1(b)} 0 1 1 ${point([cx + a, cy])}A${r1(a)} ${r1(b)} 0 1 1 ${point([cx - a, cy])}Z`,
    d: `M${point([cx - a, cy - b])}H${r1(cx + a)}V${point([cx + a, cy])}A${r1(a)} ${r1(b)} 0 0 1 ${point([cx - a, cy])}Z`.replace(/V([\d.]+) ([\d.]+)/, "V$2"),
    kidney: `M${point([cx - a, cy - b * 0.2])}C${point([cx - a, cy - b])} ${point([cx - a * 0.45, cy - b * 1.1])} ${point([cx, cy - b + (v("hollow") ?? depth * 0.12) * scale])}C${point([cx + a * 0.45, cy - b * 1.1])} ${point([cx + a, cy - b])} ${point([cx + a, cy - b * 0.2])}C${point([cx + a, cy + b])} ${point([cx + a * 0.3, cy + b])} ${point([cx, cy + b])}C${point([cx - a * 0.3, cy + b])} ${point([cx - a, cy + b])} ${point([cx - a, cy - b * 0.2])}Z`,
  };
  draw.first.push(s("path", { class: "d-shape", d: paths[shape] }), s("path", { class: "d-centre", d: `M${cx} ${r1(cy - b - 16)}V${r1(cy + b + 16)}` }));
  tape(draw, "width", [cx - a, cy], [cx + a, cy], v("width"));
  tape(draw, "depth", [cx + a, cy - b], [cx + a, cy + b], v("depth"), [26, 0]);
  if (shape === "kidney") tape(draw, "hollow", [cx, cy - b], [cx, cy - b + (v("hollow") ?? depth * 0.12) * scale], v("hollow"));
  words("rear", cx, r1(cy - b - 28)); words("front, towards you", cx, r1(cy + b + 36));
  return frame(draw, "The plan with the tape");
}

// The edge cut open: what carries it, padding, cover; from the side that is asked about.
export function edgeDrawing(values, now, unit, side, layers) {
  const draw = { now: now ? now.replace(/^(front|right|rear|left)\./, "") : now, unit, first: [], last: [] };
  const closed = Object.keys(values).some((key) => key.startsWith("closed.")), board = Object.keys(values).some((key) => key.startsWith("board."));
  if (closed) return coreDrawing(draw, values, layers);
  if (board) return boardDrawing(draw, values, layers);
  const v = (key) => values[`sides.${side || "front"}.${key}`] ?? null;
  const drop = v("drop") ?? 100, bare = Math.max(v("edge_radius") ?? 10, 0), soft = layers.reduce((sum, one) => sum + (one.mm || 0), 0);
  const sprung = values["support.kind"] === "springs";
  const across = Math.max(drop * 0.9, 120) + soft;
  const scale = Math.min(300 / (drop + soft + 20), 320 / across, 3.2);
  // Thick padding moves the edge inwards, so that the tape beside it and its figure stay on the drawing.
  const x1 = Math.min(330, W - 92 - Math.max(soft * scale + 40, 56)), top = 400 - (drop + 8) * scale, low = top + drop * scale, x0 = 36;
  const r = Math.min(bare * scale, drop * scale * 0.9);
  if (sprung) {
    let d = "";
    for (let x = x0 + 24; x < x1 - r - 16; x += 44) d += `M${x} ${r1(low)}` + [0, 1, 2, 3, 4].map((k) => `l${k % 2 ? -22 : 22} ${r1(-(low - top) / 5)}`).join("");
    draw.first.push(s("path", { class: "d-thin", d }), s("path", { class: "d-under", d: `M${x1 - 26} ${r1(low)}V${r1(top + r)}Q${x1 - 26} ${r1(top)} ${x1 - 12} ${r1(top)}Q${x1} ${r1(top)} ${x1} ${r1(top + r)}V${r1(low)}Z` }), s("path", { class: "d-tape", d: `M${x0} ${r1(top)}H${x1 - 26}` }));
  } else {
    draw.first.push(s("path", { class: "d-under", d: `M${x0} ${r1(top)}H${r1(x1 - r)}Q${x1} ${r1(top)} ${x1} ${r1(top + r)}V${r1(low)}H${x0}Z` }));
  }
  let out = 0;
  for (const [k, one] of layers.entries()) {
    const thick = Math.max((one.mm || 0) * scale, 1), big = draw.now === "layer" && k === layers.now;
    const o = out + thick;
    draw.first.push(s("path", { class: big ? "d-shape" : "d-shape", style: { strokeWidth: big ? "4" : "1", stroke: big ? "var(--thread)" : "" }, d: `M${x0} ${r1(top - out)}H${r1(x1 - r)}Q${r1(x1 + out)} ${r1(top - out)} ${r1(x1 + out)} ${r1(top + r)}V${r1(low)}H${r1(x1 + (k === layers.length - 1 ? o * 0.4 : o * 0.6))}Q${r1(x1 + o)} ${r1(low - 10)} ${r1(x1 + o)} ${r1(top + r)}Q${r1(x1 + o)} ${r1(top - o)} ${r1(x1 - r)} ${r1(top - o)}H${x0}Z` }));
    out = o;
  }
  draw.first.push(s("path", { class: "d-leather", d: `M${x0} ${r1(top - out - 2)}H${r1(x1 - r)}Q${r1(x1 + out + 2)} ${r1(top - out - 2)} ${r1(x1 + out + 2)} ${r1(top + r)}V${r1(low - 14)}L${x1} ${r1(low)}` }));
  if (v("band")) {
    const at = top - out + (v("seam_below") ?? 0) * scale + r * 0.6, x = x1 + out + 2 - (v("seam_below") ? 0 : r * 0.25);
    draw.first.push(s("circle", { class: "d-shape", cx: r1(x), cy: r1(at), r: v("welt") ? 6 : 3, style: { stroke: draw.now === "band" || draw.now === "welt" || draw.now === "seam_below" ? "var(--thread)" : "", strokeWidth: "3" } }));
  }
  tape(draw, "drop", [x1, top], [x1, low], v("drop"), [Math.max(out + 40, 56), 0]);
  if (draw.now === "edge_radius") {
    const c = [x1 - r, top + r];
    draw.last.push(s("path", { class: "d-tape now", d: `M${point(c)}L${point([c[0] + r * 0.71, c[1] - r * 0.71])}` }), s("text", { class: "d-num now", x: r1(c[0] - 40), y: r1(c[1] + 24) }, v("edge_radius") === null ? "?" : "r " + shown(v("edge_radius"), unit)));
  }
  if (draw.now === "free_height" || draw.now === "held_height") tape(draw, draw.now, [x0 + 10, top], [x0 + 10, low], values[`support.${draw.now}`] ?? null, [0, 0]);
  if (draw.now === "radius") draw.last.push(s("circle", { class: "d-tape now", cx: r1(x1 - r), cy: r1(top + r - 0), r: r1(r + out + 2), "stroke-dasharray": "6 5" }));
  draw.last.push(s("text", { class: "d-word", x: 150, y: r1(top + 34) }, sprung ? "" : "board"), s("text", { class: "d-word", x: x1 - 40, y: r1(Math.min(low + 22, H - 6)) }, "tack line"));
  return frame(draw, "The edge cut open, with the tape");
}

function coreDrawing(draw, values, layers) {
  const core = values["closed.thickness"] ?? values["closed.length"] ?? 90, band = values["closed.band"] ?? core;
  const wrap = layers.reduce((sum, one) => sum + (one.mm || 0), 0);
  const scale = Math.min(190 / (Math.max(core, band) + 2 * wrap), 1.9), cx = 206, wide = 300;
  const hc = core * scale / 2, cy = H / 2, hw = wrap * scale;
  const bulge = 12;
  if (wrap) draw.first.push(s("path", { class: "d-shape", style: { stroke: draw.now === "layer" ? "var(--thread)" : "", strokeWidth: draw.now === "layer" ? "4" : "1" }, d: `M${cx - wide / 2 + 8} ${r1(cy - hc)}Q${cx} ${r1(cy - hc - 2 * hw - bulge)} ${cx + wide / 2 - 8} ${r1(cy - hc)}V${r1(cy + hc)}Q${cx} ${r1(cy + hc + 2 * hw + bulge)} ${cx - wide / 2 + 8} ${r1(cy + hc)}Z` }));
  draw.first.push(s("rect", { class: "d-shape", x: cx - wide / 2 + 6, y: r1(cy - hc), width: wide - 12, height: r1(2 * hc), rx: 4 }));
  draw.first.push(s("path", { class: "d-leather", d: `M${cx - wide / 2} ${r1(cy - band * scale / 2)}Q${cx} ${r1(cy - hc - 2 * hw - bulge - 6)} ${cx + wide / 2} ${r1(cy - band * scale / 2)}V${r1(cy + band * scale / 2)}Q${cx} ${r1(cy + hc + 2 * hw + bulge + 6)} ${cx - wide / 2} ${r1(cy + band * scale / 2)}Z` }));
  if (values["closed.welt"]) for (const [x, y] of [[-1, -1], [1, -1], [-1, 1], [1, 1]]) draw.first.push(s("circle", { class: "d-shape", cx: cx + x * wide / 2, cy: r1(cy + y * band * scale / 2), r: 7, style: { stroke: draw.now === "welt" ? "var(--thread)" : "" } }));
  // The cut runs from front to rear, so only a zip in either of them is met.
  const along = String(values["closed.zip"] || "rear"), behind = /rear|top/.test(along), before = /front|bottom/.test(along);
  for (const x of [behind ? cx - wide / 2 : null, before ? cx + wide / 2 : null]) if (x !== null) draw.first.push(s("path", { class: draw.now === "past_corner" || draw.now === "zip" ? "d-tape now" : "d-thin", d: `M${x - 8} ${cy}h16` }));
  tape(draw, values["closed.length"] !== undefined ? "length" : "core", [cx + 40, cy - hc], [cx + 40, cy + hc], values["closed.thickness"] ?? values["closed.length"] ?? null);
  if (draw.now === "band" || values["closed.band"]) tape(draw, "band", [cx + wide / 2, cy - band * scale / 2], [cx + wide / 2, cy + band * scale / 2], values["closed.band"] ?? null, [30, 0]);
  draw.last.push(s("text", { class: "d-word", x: cx - wide / 2 - 2, y: r1(cy + band * scale / 2 + 30) }, behind ? "rear, zip" : "rear"), s("text", { class: "d-word", x: cx + wide / 2, y: r1(cy + band * scale / 2 + 30) }, before ? "front, zip" : "front"), s("text", { class: "d-word", x: cx - 60, y: cy + 5 }, "core"));
  if (draw.now === "undersize") draw.last.push(s("text", { class: "d-num now", x: cx, y: 40 }, "cover cut smaller than the core, all round"));
  return frame(draw, "The cushion cut open, with the tape");
}

function boardDrawing(draw, values, layers) {
  const thick = values["board.thickness"] ?? 3, wrap = values["board.wrap"] ?? 22, foam = layers.reduce((sum, one) => sum + (one.mm || 0), 0);
  const k = Math.min(5, 120 / (thick + foam)), y = 220, t = thick * k, f = foam * k;
  draw.first.push(s("rect", { class: "d-under", x: 40, y, width: 320, height: r1(t) }), s("rect", { class: "d-shape", x: 40, y: r1(y - f), width: 320, height: r1(f) }));
  draw.first.push(s("path", { class: "d-leather", d: `M40 ${r1(y - f - 3)}H362V${r1(y + t + 3)}H${r1(362 - wrap * 4)}` }));
  tape(draw, "core", [80, y], [80, y + t], values["board.thickness"] ?? null, [-26, 0]);
  tape(draw, "wrap", [362 - wrap * 4, y + t], [362, y + t], values["board.wrap"] ?? null, [0, 34]);
  return frame(draw, "The board cut open, with the tape");
}

// A strip of leather or a block of foam with its weight; the tape lies where it is read.
export function weighedDrawing(what, { across, read }, unit) {
  const draw = { now: "read", unit, first: [], last: [] }, cx = W / 2, word = (text, x, y) => draw.last.push(s("text", { class: "d-word", x, y }, text));
  const weight = (y) => draw.first.push(s("path", { class: "d-under", d: `M${cx - 38} ${y}H${cx + 38}L${cx + 52} ${y + 62}H${cx - 52}Z` }));
  if (what === "strip") {
    draw.first.push(s("rect", { class: "d-under", x: cx - 60, y: 34, width: 120, height: 20 }), s("rect", { class: "d-shape", x: cx - 30, y: 54, width: 60, height: 250 }), s("rect", { class: "d-under", x: cx - 44, y: 304, width: 88, height: 16 }), s("path", { class: "d-thin", d: `M${cx - 30} 96H${cx + 30}M${cx - 30} 262H${cx + 30}M${cx} 320V336` }));
    weight(336);
    tape(draw, "read", [cx + 30, 96], [cx + 30, 262], read, [56, 0]);
    tape(draw, "across", [cx - 30, 180], [cx + 30, 180], across, [0, 0]);
    word("clamp", cx, 26); word("mark", cx - 60, 101); word("mark", cx - 60, 267); word("weight", cx, 418);
  } else {
    draw.first.push(s("rect", { class: "d-under", x: cx - 170, y: 336, width: 340, height: 16 }), s("rect", { class: "d-shape", x: cx - 80, y: 186, width: 160, height: 150 }), s("rect", { class: "d-under", x: cx - 96, y: 172, width: 192, height: 14 }));
    weight(110);
    tape(draw, "read", [cx + 80, 186], [cx + 80, 336], read, [70, 0]);
    tape(draw, "across", [cx - 80, 336], [cx + 80, 336], across, [0, 44]);
    word("weight", cx, 100); word("board", cx - 122, 166); word("block of foam", cx, 266);
  }
  return frame(draw, what === "strip" ? "The strip with its weight, and where it is read" : "The block under its weight, and where it is read");
}
