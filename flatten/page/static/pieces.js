// Pieces as they are cut: drawn from the lines of the papers, y upwards.
import { s } from "./dom.js";

const pairs = (flat) => { const out = []; for (let k = 0; k < flat.length; k += 2) out.push([flat[k], flat[k + 1]]); return out; };

export function linePath(flat, box) {
  let d = "";
  for (let k = 0; k < flat.length; k += 2) d += `${k ? "L" : "M"}${(flat[k] - box[0]).toFixed(1)} ${(box[3] - flat[k + 1]).toFixed(1)}`;
  return d;
}

// One piece as a group, its lower left corner at 0. lit: name of the seam that is shown.
export function pieceGroup(piece, lit, onedge) {
  const box = piece.box, g = s("g", null, s("path", { class: "p-cut", d: linePath(piece.cut, box) + "Z" }));
  for (const edge of piece.edges) g.append(s("path", { class: "p-sew", d: linePath(edge.points, box) }));
  for (const [word, lines] of Object.entries(piece.lines)) {
    const kind = word === "notches" ? "p-mark" : word === "lines before fitting" ? "p-line p-before" : word === "grain" || word === "text" ? null : "p-line";
    if (kind) g.append(s("path", { class: kind, d: lines.map((one) => linePath(one, box)).join("") }));
  }
  const [tail, head] = pairs(piece.grain);
  if (head && Math.hypot(head[0] - tail[0], head[1] - tail[1]) > 1) {
    const u = [(head[0] - tail[0]), (head[1] - tail[1])], l = Math.hypot(...u), size = Math.min(18, l / 3), d = [u[0] / l * size, u[1] / l * size];
    g.append(s("path", { class: "p-arrow", d: linePath([...tail, ...head], box) + linePath([head[0] - d[0] - d[1] * 0.5, head[1] - d[1] + d[0] * 0.5, ...head, head[0] - d[0] + d[1] * 0.5, head[1] - d[1] - d[0] * 0.5], box) }));
  }
  for (const edge of piece.edges) {
    const now = lit !== null && (edge.seam === lit || edge.over === lit);
    g.append(s("path", { class: `p-edge${now ? " lit" : ""}`, d: linePath(edge.points, box), onclick: onedge ? (event) => { event.stopPropagation(); onedge(edge.seam, edge); } : null }));
  }
  return g;
}

export function pieceDrawing(piece, lit, onedge) {
  const w = piece.box[2] - piece.box[0], hgt = piece.box[3] - piece.box[1], e = Math.max(w, hgt) * 0.03;
  return s("svg", { class: "piece", viewBox: `${-e} ${-e} ${w + 2 * e} ${hgt + 2 * e}`, role: "img", "aria-label": `The piece ${piece.name}` }, pieceGroup(piece, lit, onedge));
}

// All pieces on one table at one scale, in rows, on squares of 100 mm.
export function tableDrawing(pieces, width, onpick) {
  const gap = 40, places = [];
  const widest = Math.max(...pieces.map((p) => p.box[2] - p.box[0]), 1), room = Math.max(width, widest + 2 * gap);
  const size = room / 44;
  let x = gap, y = gap, row = 0;
  for (const piece of pieces) {
    const own = piece.box[2] - piece.box[0], w = Math.max(own, Math.min(piece.name.length, 46) * size * 0.62), hgt = piece.box[3] - piece.box[1] + 2.6 * size;
    if (x > gap && x + w + gap > room) { x = gap; y += row + gap; row = 0; }
    places.push([piece, x + (w - own) / 2, y]); x += w + gap; row = Math.max(row, hgt);
  }
  const height = y + row + gap;
  let squares = "";
  for (let k = 0; k <= room; k += 100) squares += `M${k} 0V${height}`;
  for (let k = 0; k <= height; k += 100) squares += `M0 ${k}H${room}`;
  return s("svg", { viewBox: `0 0 ${room} ${height}`, role: "group", "aria-label": "All pieces at one scale, on squares of 100 mm" }, s("path", { class: "square", d: squares }),
    places.map(([piece, px, py]) => s("g", { class: "piece-tap", transform: `translate(${px} ${py})`, tabindex: 0, role: "button",
      onclick: () => onpick(piece), onkeydown: (e) => { if (e.key === "Enter" || e.key === " ") { e.preventDefault(); onpick(piece); } } },
      pieceGroup(piece, null, null), words(piece, size))));
}

function words(piece, size) {
  const w = piece.box[2] - piece.box[0], hgt = piece.box[3] - piece.box[1];
  return [s("text", { class: "p-name", x: w / 2, y: hgt + size * 1.15, "font-size": size }, piece.name.length > 46 ? piece.name.slice(0, 44) + "\u2026" : piece.name), s("text", { class: "p-sub", x: w / 2, y: hgt + size * 2.2, "font-size": size * 0.85 }, piece.count)];
}
