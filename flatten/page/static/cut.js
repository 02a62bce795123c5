// A pad cut through: where a plane meets its triangles, in the pad's own coordinates, joined into lines.
import { s } from "./dom.js";
import { shown } from "./lengths.js";

// axis: 0 for a cut along the pad (x = place), 1 for one across it (y = place). Lines as rows of [place, height], mm.
export function slice(pad, state, axis, place) {
  const at = pad[state], m = pad.inverse.elements, faces = pad.faces, n = at.length / 3, local = new Float32Array(n * 3);
  for (let k = 0; k < n; k += 1) {
    const x = at[3 * k], y = at[3 * k + 1], z = at[3 * k + 2];
    for (let c = 0; c < 3; c += 1) local[3 * k + c] = m[c] * x + m[4 + c] * y + m[8 + c] * z + m[12 + c];
  }
  const other = 1 - axis, ends = new Map(), pieces = [];
  const node = (i, j) => {
    const [a, b] = i < j ? [i, j] : [j, i], key = a * n + b;
    if (!ends.has(key)) {
      const p = local[3 * a + axis], q = local[3 * b + axis], t = (place - p) / (q - p || 1e-9);
      ends.set(key, { at: [local[3 * a + other] + t * (local[3 * b + other] - local[3 * a + other]), local[3 * a + 2] + t * (local[3 * b + 2] - local[3 * a + 2])],
        seat: [0, 1, 2].map((c) => at[3 * a + c] + t * (at[3 * b + c] - at[3 * a + c])), next: [] });
    }
    return ends.get(key);
  };
  for (let k = 0; k < faces.length; k += 3) {
    const v = [faces[k], faces[k + 1], faces[k + 2]], side = v.map((i) => local[3 * i + axis] >= place);
    const crossed = [];
    for (let e = 0; e < 3; e += 1) if (side[e] !== side[(e + 1) % 3]) crossed.push(node(v[e], v[(e + 1) % 3]));
    if (crossed.length === 2) { crossed[0].next.push(crossed[1]); crossed[1].next.push(crossed[0]); pieces.push(crossed); }
  }
  const lines = [], used = new Set(), all = [...ends.values()];
  const follow = (start) => {
    const line = [start.at]; used.add(start);
    for (let now = start; ;) {
      const next = now.next.find((one) => !used.has(one));
      if (!next) { if (line.length > 2 && now.next.includes(start)) line.push(start.at); return line; }
      used.add(next); line.push(next.at); now = next;
    }
  };
  for (const one of all) if (one.next.length === 1 && !used.has(one)) lines.push(follow(one));
  for (const one of all) if (!used.has(one)) lines.push(follow(one));
  const outline = [];
  for (const [a, b] of pieces) outline.push(...a.seat, ...b.seat);
  return { lines: lines.sort((a, b) => b.length - a.length), outline };
}

// The smallest radius of a line over a stretch about as long as a thumb is wide, away from its ends; mm.
export function roundest(line, window = 24) {
  const way = [0];
  for (let k = 1; k < line.length; k += 1) way.push(way[k - 1] + Math.hypot(line[k][0] - line[k - 1][0], line[k][1] - line[k - 1][1]));
  const total = way[way.length - 1];
  if (total < 3 * window) return null;
  const place = (t) => { let k = 1; while (k < way.length - 1 && way[k] < t) k += 1; const u = (t - way[k - 1]) / (way[k] - way[k - 1] || 1); return [line[k - 1][0] + u * (line[k][0] - line[k - 1][0]), line[k - 1][1] + u * (line[k][1] - line[k - 1][1])]; };
  let best = null;
  for (let t = window * 0.75; t <= total - window * 0.75; t += 2) {
    const a = place(t - window / 2), b = place(t), c = place(t + window / 2);
    const area = Math.abs((b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1])) / 2;
    if (area < 1e-6) continue;
    const radius = Math.hypot(b[0] - a[0], b[1] - a[1]) * Math.hypot(c[0] - b[0], c[1] - b[1]) * Math.hypot(a[0] - c[0], a[1] - c[1]) / (4 * area);
    if (!best || radius < best.radius) {
      const d = 2 * (a[0] * (b[1] - c[1]) + b[0] * (c[1] - a[1]) + c[0] * (a[1] - b[1]));
      const q = (p) => p[0] * p[0] + p[1] * p[1];
      best = { radius, at: b, centre: [(q(a) * (b[1] - c[1]) + q(b) * (c[1] - a[1]) + q(c) * (a[1] - b[1])) / d, (q(a) * (c[0] - b[0]) + q(b) * (a[0] - c[0]) + q(c) * (b[0] - a[0])) / d] };
    }
  }
  return best;
}

// The cut as a drawing: bare support, free padding, the cover as it is now and as it was before.
export function cutDrawing(bare, free, now, before, unit) {
  const all = [...bare, ...free, ...now].flat();
  if (!all.length) return s("svg", { class: "cut", viewBox: "0 0 320 120", role: "img", "aria-label": "No cut here" });
  const xs = all.map((p) => p[0]), ys = all.map((p) => p[1]);
  const x0 = Math.min(...xs), x1 = Math.max(...xs), y0 = Math.min(...ys), y1 = Math.max(...ys);
  const k = 292 / Math.max(x1 - x0, 1), height = Math.max((y1 - y0) * k + 40, 90);
  const to = (p) => `${(14 + (p[0] - x0) * k).toFixed(1)} ${(height - 18 - (p[1] - y0) * k).toFixed(1)}`;
  const path = (line) => "M" + line.map(to).join("L");
  const tight = now.length ? roundest(now[0]) : null;
  const svg = s("svg", { class: "cut", viewBox: `0 0 320 ${height.toFixed(0)}`, role: "img", "aria-label": "The pad cut open" },
    free.map((line) => s("path", { class: "c-free", d: path(line) })), bare.map((line) => s("path", { class: "c-bare", d: path(line) })),
    before.map((line) => s("path", { class: "c-was", d: path(line) })), now.map((line) => s("path", { class: "c-now", d: path(line) })));
  if (tight && tight.radius < 400) {
    const [cx, cy] = to(tight.centre).split(" ").map(Number), r = tight.radius * k;
    if (r < 150) svg.append(s("circle", { class: "c-radius", cx, cy, r: r.toFixed(1) }));
    const [x, y] = to(tight.at).split(" ").map(Number);
    svg.append(s("text", { class: "c-text", x: Math.min(x, 250), y: Math.max(y - 8, 14), "text-anchor": x > 200 ? "end" : "start" }, `r ${shown(tight.radius, unit)}`));
  }
  return svg;
}
