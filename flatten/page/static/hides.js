// Hides: drawn on a grid, by their area, or from a drawing; flaws and pieces placed on them, and the plan that follows.
import { h, s, put, icon, choice } from "./dom.js";
import { at, get, post } from "./api.js";
import { shown, toMm, typed } from "./lengths.js";
import { says } from "./measure.js";

const GRADES = [["unusable", "unusable: never covered"], ["hole", "a hole"], ["cut", "a cut"], ["hidden", "for hidden pieces only"], ["mark", "a mark: tell me"]];
// A drawing goes along as text, which is a third longer; the server takes no more than this.
const MOST_BYTES = 800000;
const SNAP_MM = 10;
const ZONES = ["butt", "shoulder", "neck", "belly", "flank"];
const SEEN = [["face", "a face: sat on or leant against"], ["band", "a band in front"], ["side", "at the side"], ["rear", "from behind only"], ["hidden", "not at all"]];

const around = (ring) => { const xs = ring.map((p) => p[0]), ys = ring.map((p) => p[1]); return [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)]; };
const within = (ring, x, y) => { let odd = false; for (let i = 0, j = ring.length - 1; i < ring.length; j = i++) { const [a, b] = ring[i], [c, d] = ring[j]; if ((b > y) !== (d > y) && x < (c - a) * (y - b) / (d - b) + a) odd = !odd; } return odd; };
// A strip along a line of two points, so wide to both sides.
const band = ([p, q], e) => { const l = Math.hypot(q[0] - p[0], q[1] - p[1]) || 1, n = [-(q[1] - p[1]) / l * e, (q[0] - p[0]) / l * e]; return [[p[0] + n[0], p[1] + n[1]], [q[0] + n[0], q[1] + n[1]], [q[0] - n[0], q[1] - n[1]], [p[0] - n[0], p[1] - n[1]]]; };
// The middle of a box of some size within a ring and clear of others, nearest to the middle of the ring; null without.
function roomFor(ring, wide, high, taken) {
  const [x0, y0, x1, y1] = around(ring), mid = [(x0 + x1) / 2, (y0 + y1) / 2], spots = [], n = 40;
  for (let i = 0; i <= n; i++) for (let j = 0; j <= n; j++) spots.push([x0 + (x1 - x0) * i / n, y0 + (y1 - y0) * j / n]);
  spots.sort((a, b) => Math.hypot(a[0] - mid[0], a[1] - mid[1]) - Math.hypot(b[0] - mid[0], b[1] - mid[1]));
  const grid = (x, y) => [-1, -0.5, 0, 0.5, 1].flatMap((u) => [-1, 0, 1].map((v) => [x + u * wide / 2, y + v * high / 2]));
  return spots.find(([x, y]) => { const box = grid(x, y); return box.every((p) => within(ring, ...p)) && !taken.some((other) => box.some((p) => within(other, ...p)) || other.some((p) => Math.abs(p[0] - x) < wide / 2 && Math.abs(p[1] - y) < high / 2)); }) || null;
}

export class Hides {
  constructor(app) { this.app = app; this.forget(); }

  forget() { this.hide = 0; this.mode = "look"; this.drawn = []; this.laid = null; this.points = []; this.backbone = []; this.flaw = null; this.zone = null; this.picked = null; this.moved = {}; this.asked = null; this.told = []; this.busy = ""; this.length = 2500; this.width = 2200; this.adding = null; this.of = null; }

  show(root) {
    this.stand = h("div", { class: "stand hide-stand" }); this.side = h("div", { class: "side", tabindex: -1 });
    put(root, h("div", { class: "see" }, this.stand, this.side));
    this.refresh(); this.load();
  }

  took() { this.refresh(); this.load(); }
  answered() { if (this.stand && this.stand.isConnected) this.refresh(); }

  get rows() { return this.app.sheet.hides || []; }
  get one() { return this.rows.find((row) => row.row === this.hide) || this.rows[0] || null; }
  get shape() { const one = this.one; return one ? this.drawn.find((d) => d.number === one.row) || null : null; }
  mm(value) { return toMm(value, this.app.sheet.unit) ?? 0; }
  write(value) { const v = Math.round(value); return this.app.sheet.unit === "in" ? `${v} mm` : v; }
  pair(p) { return [this.write(p[0]), this.write(p[1])]; }

  async load() {
    const mark = this.app.sheet.mark;
    if (this.of === mark || !this.rows.length) { if (!this.rows.length) { this.drawn = []; this.laid = null; } return; }
    try {
      const found = await get(at(this.app.sheet.sheet, "hides"));
      this.of = mark; this.drawn = found.drawn;
    } catch (fault) { this.app.told(fault); }
    if (this.stand.isConnected) this.refresh();
  }

  refresh() { if (!this.stand || !this.stand.isConnected) return; this.draw(); this.app.keepFocus(() => this.form()); }

  // All that is on the grid, in the hide's own coordinates, y up.
  frame() {
    const all = [...(this.mode === "outline" ? [...this.points, ...this.backbone, [0, 0], [this.length, this.width]] : []), ...(this.mode !== "outline" && this.shape ? this.shape.outline : [])];
    if (!all.length) all.push([0, 0], [this.length, this.width]);
    const xs = all.map((p) => p[0]), ys = all.map((p) => p[1]), e = 60;
    return [Math.min(...xs) - e, Math.min(...ys) - e, Math.max(...xs) + e, Math.max(...ys) + e];
  }

  draw() {
    const box = this.box = this.frame(), w = box[2] - box[0], hgt = box[3] - box[1], to = (p) => `${(p[0] - box[0]).toFixed(1)} ${(box[3] - p[1]).toFixed(1)}`, ring = (line) => `M${line.map(to).join("L")}Z`;
    let squares = "";
    for (let x = Math.ceil(box[0] / 100) * 100; x <= box[2]; x += 100) squares += `M${to([x, box[1]])}L${to([x, box[3]])}`;
    for (let y = Math.ceil(box[1] / 100) * 100; y <= box[3]; y += 100) squares += `M${to([box[0], y])}L${to([box[2], y])}`;
    const svg = s("svg", { class: `hide ${this.mode}`, viewBox: `0 0 ${w.toFixed(1)} ${hgt.toFixed(1)}`, role: "group", "aria-label": "The hide on squares of 100 mm, tail at the left" }, s("path", { class: "square d-thin", style: { opacity: "0.4" }, d: squares }));
    const shape = this.mode === "outline" ? null : this.shape;
    if (shape) {
      svg.append(s("path", { class: "h-hide", d: ring(shape.outline) }), s("path", { class: "d-centre", d: `M${shape.backbone.map(to).join("L")}` }));
      for (const zone of shape.zones) svg.append(s("path", { class: "h-zone", d: ring(zone.points) }));
      this.pieces(svg, to, ring, w);
      for (const flaw of shape.flaws) svg.append(s("path", { class: `h-flaw ${["hidden", "mark"].includes(flaw.grade) ? "mild" : ""}`, d: ring(flaw.points) }), this.word(flaw.words, flaw.points, to, w));
      this.zoneNames(svg, shape, to, w);
    }
    if (this.mode === "outline") {
      if (this.points.length > 1) svg.append(s("path", { class: "h-draft", d: this.points.length > 2 ? ring(this.points) : `M${this.points.map(to).join("L")}` }));
      this.points.forEach((p, k) => svg.append(this.dot(p, to, w, `Point ${k + 1} of the outline`, (q) => { this.points[k] = q; }, this.step === "spine" ? "still" : "")));
    }
    if (this.mode === "outline" || this.mode === "backbone") {
      if (this.backbone.length === 2) svg.append(s("path", { class: "h-spine", d: `M${this.backbone.map(to).join("L")}` }));
      this.backbone.forEach((p, k) => svg.append(this.dot(p, to, w, k ? "Backbone, neck" : "Backbone, tail", (q) => { this.backbone[k] = q; }, "spine")));
    }
    if (this.mode === "flaw" && this.flaw) {
      const f = this.flaw;
      if (f.round) svg.append(s("circle", { class: "h-new", cx: f.at[0] - box[0], cy: box[3] - f.at[1], r: Math.max(f.radius, 1) }), this.dot(f.at, to, w, "Middle of the flaw", (q) => { f.at = q; }));
      else { if (f.points.length > 1) svg.append(s("path", { class: "h-new", d: f.points.length > 2 ? ring(f.points) : `M${f.points.map(to).join("L")}` })); f.points.forEach((p, k) => svg.append(this.dot(p, to, w, `Point ${k + 1} of the flaw`, (q) => { f.points[k] = q; }))); }
    }
    if (this.mode === "zone" && this.zone) { const z = this.zone.points; if (z.length > 1) svg.append(s("path", { class: "h-new", d: z.length > 2 ? ring(z) : `M${z.map(to).join("L")}` })); z.forEach((p, k) => svg.append(this.dot(p, to, w, `Point ${k + 1} of the zone`, (q) => { z[k] = q; }))); }
    svg.addEventListener("click", (event) => this.tap(event, svg));
    this.svg = svg;
    const modes = [["look", "Look"], ...(this.shape ? [["flaw", "Flaw"], ["zone", "Zone"], ["pin", "Pin"]] : [])];
    put(this.stand, svg, h("div", { class: "over" }, this.rows.length > 1 ? h("select", { class: "b", "data-at": "hide-pick", "aria-label": "Which hide", onchange: (e) => { this.hide = Number(e.target.value); this.picked = null; this.flaw = null; if (this.zone) this.zone.points = []; this.refresh(); } }, this.rows.map((row) => h("option", { value: row.row, selected: row === this.one }, row.name))) : null,
      this.mode === "outline" || this.mode === "backbone" ? null : choice("hide-mode", modes, this.mode, (word) => { this.mode = word; this.told = []; this.flaw = null; this.zone = word === "zone" ? { name: ZONES[0], points: [] } : null; this.refresh(); if (word === "pin" && !this.laid) this.lay(); }, "What a tap does")));
  }

  word(text, points, to, w) { const x = points.reduce((sum, p) => sum + p[0], 0) / points.length, y = Math.max(...points.map((p) => p[1])) + w * 0.008, [a, b] = to([x, y]).split(" "); return s("text", { class: "p-sub", x: a, y: b, "font-size": w * 0.017 }, text); }

  // Every part of a zone by its name, on leather that is free; a part with no room for it goes without.
  zoneNames(svg, shape, to, w) {
    const size = w * 0.017, taken = shape.flaws.map((flaw) => flaw.points);
    for (const flaw of shape.flaws) { const [x0, , x1, y1] = around(flaw.points), half = Math.max(x1 - x0, flaw.words.length * size * 0.6) / 2, x = (x0 + x1) / 2; taken.push([[x - half, y1], [x + half, y1], [x + half, y1 + 2 * size], [x - half, y1 + 2 * size]]); }
    if (this.laid) for (const piece of this.laid.pieces) if (piece.hide === this.one.row) taken.push(piece.points);
    for (const zone of shape.zones) {
      const at = roomFor(zone.points, zone.name.length * size * 0.6, size * 1.3, [...taken, band(shape.backbone, size)]);
      if (!at) continue;
      const [x, y] = to([at[0], at[1] - size * 0.35]).split(" "); svg.append(s("text", { class: "p-sub h-zone-name", x, y, "font-size": size }, zone.name));
    }
  }

  // A point that is dragged, or moved with the arrow keys.
  dot(p, to, w, name, move, more = "") {
    const [x, y] = to(p).split(" "), dot = s("circle", { class: `grid-point ${more}`, cx: x, cy: y, r: w * 0.011, tabindex: 0, role: "button", "aria-label": `${name}, at ${p.map((v) => shown(v, this.app.sheet.unit)).join(", ")}; arrow keys move it`, "data-at": `dot ${name}` });
    dot.addEventListener("click", (event) => event.stopPropagation());
    dot.addEventListener("pointerdown", (event) => {
      event.preventDefault(); event.stopPropagation(); dot.setPointerCapture(event.pointerId);
      const go = (one) => { const q = this.place(one); move(q); const [cx, cy] = to(q).split(" "); dot.setAttribute("cx", cx); dot.setAttribute("cy", cy); };
      dot.addEventListener("pointermove", go);
      dot.addEventListener("pointerup", () => { dot.removeEventListener("pointermove", go); this.refresh(); }, { once: true });
    });
    dot.addEventListener("keydown", (event) => {
      const by = { ArrowUp: [0, 1], ArrowDown: [0, -1], ArrowLeft: [-1, 0], ArrowRight: [1, 0] }[event.key]; if (!by) return;
      event.preventDefault(); const step = event.shiftKey ? 100 : SNAP_MM; move([p[0] + by[0] * step, p[1] + by[1] * step]); this.app.keepFocus(() => this.draw());
      const again = [...this.svg.querySelectorAll(".grid-point")].find((one) => one.getAttribute("data-at") === `dot ${name}`); if (again) again.focus();
    });
    return dot;
  }

  place(event) {
    const q = new DOMPoint(event.clientX, event.clientY).matrixTransform(this.svg.getScreenCTM().inverse()), snap = (v) => Math.round(v / SNAP_MM) * SNAP_MM;
    return [snap(q.x + this.box[0]), snap(this.box[3] - q.y)];
  }

  tap(event) {
    const p = this.place(event);
    if (this.mode === "outline") { if (this.step === "spine") { if (this.backbone.length < 2) this.backbone.push(p); } else this.points.push(p); } else if (this.mode === "backbone") { if (this.backbone.length === 2) this.backbone = []; this.backbone.push(p); } else if (this.mode === "flaw") {
      if (!this.flaw) this.flaw = { kind: "brand", grade: "unusable", round: true, at: p, radius: 50, points: [] }; else if (this.flaw.round) this.flaw.at = p; else this.flaw.points.push(p);
    } else if (this.mode === "zone" && this.zone) this.zone.points.push(p); else return;
    this.refresh();
  }

  // Pieces as they lie; in Pin each is dragged, or moved with the arrow keys.
  pieces(svg, to, ring, w) {
    if (!this.laid) return;
    for (const piece of this.laid.pieces.filter((one) => one.hide === this.one.row)) {
      const by = this.moved[piece.label] || { x: 0, y: 0, turn: 0 }, mid = to(piece.at).split(" ").map(Number);
      const g = s("g", { class: `h-piece${piece.pinned ? " pinned" : ""}${this.picked === piece.label ? " now" : ""}`, transform: `translate(${by.x} ${-by.y}) rotate(${-by.turn} ${mid[0]} ${mid[1]})` }, s("path", { d: ring(piece.points) }));
      const wide = Math.max(...piece.points.map((p) => p[0])) - Math.min(...piece.points.map((p) => p[0])), size = w * 0.016;
      if (wide > piece.label.length * size * 0.55) g.append(s("text", { class: "p-sub", x: mid[0], y: mid[1], "font-size": size }, piece.label));
      if (this.mode === "pin") this.movable(g, piece);
      svg.append(g);
    }
  }

  movable(g, piece) {
    g.setAttribute("tabindex", 0); g.setAttribute("role", "button"); g.setAttribute("data-at", `piece ${piece.label}`); g.setAttribute("aria-label", `${piece.label}${piece.pinned ? ", pinned" : ""}: arrow keys move it, R turns it round, Enter pins it`);
    const by = () => this.moved[piece.label] || (this.moved[piece.label] = { x: 0, y: 0, turn: 0 });
    g.addEventListener("click", (event) => event.stopPropagation());
    g.addEventListener("pointerdown", (event) => {
      event.preventDefault(); g.setPointerCapture(event.pointerId); this.picked = piece.label;
      const from = this.place(event), was = { ...by() };
      const go = (one) => { const q = this.place(one), mid = [piece.at[0] - this.box[0], this.box[3] - piece.at[1]]; Object.assign(by(), { x: was.x + q[0] - from[0], y: was.y + q[1] - from[1] }); g.setAttribute("transform", `translate(${by().x} ${-by().y}) rotate(${-by().turn} ${mid[0]} ${mid[1]})`); };
      g.addEventListener("pointermove", go);
      g.addEventListener("pointerup", () => { g.removeEventListener("pointermove", go); this.refresh(); if (by().x !== was.x || by().y !== was.y) this.pin(piece); }, { once: true });
    });
    g.addEventListener("keydown", (event) => {
      const step = { ArrowUp: [0, 1], ArrowDown: [0, -1], ArrowLeft: [-1, 0], ArrowRight: [1, 0] }[event.key], far = event.shiftKey ? 100 : SNAP_MM;
      if (step) { by().x += step[0] * far; by().y += step[1] * far; } else if (event.key.toLowerCase() === "r") by().turn = (by().turn + 180) % 360; else if (event.key === "Enter") { event.preventDefault(); this.pin(piece); return; } else return;
      event.preventDefault(); this.picked = piece.label; this.refresh();
      const again = [...this.svg.querySelectorAll("g[tabindex]")].find((one) => one.getAttribute("data-at") === `piece ${piece.label}`); if (again) again.focus();
    });
  }

  // A pin is tried with the whole layout first; what cannot be is told, and nothing is written.
  async pin(piece) {
    const by = this.moved[piece.label] || { x: 0, y: 0, turn: 0 }, row = { piece: piece.name, number: piece.number, at: this.pair([piece.at[0] + by.x, piece.at[1] + by.y]), turn: (piece.turn + by.turn) % 360 };
    const pins = Array.isArray(this.one.pin) ? this.one.pin : [], k = pins.findIndex((one) => one.piece === piece.name && (one.number ?? 1) === piece.number), keys = ["hide", this.one.row, "pin"];
    const changes = k < 0 ? [] : [{ keys: [...keys, k, "at"], value: row.at }, { keys: [...keys, k, "turn"], value: row.turn }], rows = k < 0 ? [{ keys, row }] : [];
    if (!await this.lay({ changes, rows })) return;
    this.moved = {};
    if (k < 0) await this.app.row(keys, row); else await this.app.change(changes);
    this.of = this.app.sheet.mark;
    this.app.announce(`${piece.label} is pinned. Undo lets it go again.`);
  }

  async letGo(piece) {
    const pins = Array.isArray(this.one.pin) ? this.one.pin : [], k = pins.findIndex((one) => one.piece === piece.name && (one.number ?? 1) === piece.number);
    if (k >= 0) { await this.app.change([{ keys: ["hide", this.one.row, "pin", k], value: null }]); await this.lay(); }
  }

  // The pieces laid on the hides; with changes that are tried. True when they could be.
  async lay(tried = {}) {
    if (!this.app.answer || this.app.answer.level !== "final") { this.told = [{ code: "", text: "The exact pieces are still being computed; lay them in a moment." }]; this.refresh(); return false; }
    this.busy = "The pieces are being laid"; this.told = []; this.refresh();
    let done = false;
    try {
      await this.app.settled();
      const found = await post(at(this.app.sheet.sheet, "hides"), tried);
      if (found.refused.length) this.told = found.refused; else { this.laid = found; this.drawn = found.drawn; this.moved = {}; done = true; this.app.announce(found.words[0] || "Laid."); }
    } catch (fault) { this.told = fault.problems && fault.problems.length ? fault.problems : [{ code: "", text: fault.message }]; }
    this.busy = ""; this.refresh();
    return done;
  }

  form() {
    const unit = this.app.sheet.unit, one = this.one, parts = [];
    if (this.mode === "outline" || this.mode === "backbone") parts.push(this.tracing(unit));
    else if (this.adding) parts.push(this.another(unit));
    else {
      parts.push(h("section", null, h("h2", null, one ? one.name : "Hides"), one ? this.about(one, unit) : h("p", { class: "quiet" }, "Nothing is laid out yet: say which hides there are, traced, by their area, or from a drawing. Without one the order list goes by area alone."), this.busy ? h("p", { role: "status" }, `${this.busy}\u2026`) : null, this.told.map((p) => says(p)),
        h("div", { class: "next" }, one ? h("button", { class: "b main", "data-at": "hide-lay", disabled: Boolean(this.busy), onclick: () => this.lay() }, "Lay the pieces") : null, h("button", { class: one ? "b" : "b main", "data-at": "hide-add", onclick: () => { this.adding = "area"; this.told = []; this.refresh(); } }, icon("plus"), "A hide"))));
      if (this.mode === "flaw") parts.push(this.flawForm(unit));
      if (this.mode === "zone" && one) parts.push(this.zoneForm());
      if (this.mode === "pin") parts.push(this.pinForm(unit), this.askForm());
      if (this.laid && !["flaw", "zone"].includes(this.mode)) parts.push(h("section", null, h("h3", null, "The layout"), h("ul", { class: "small" }, this.laid.words.map((text) => h("li", null, text))), h("p", { class: "small quiet" }, "The plan to cut by is under Make, and among the papers.")));
    }
    put(this.side, parts);
  }

  about(one, unit) {
    const shape = this.shape, from = one.file ? `from ${one.file}, 1 unit is ${one.scale ?? "?"} mm` : one.area ? "a usual hide of the measured area" : "traced";
    const wrong = this.app.sheet.problems.filter((p) => p.keys[0] === "hide" && !p.warning);
    return [h("p", { class: "small" }, from, shape ? `, ${unit === "in" ? `${(shape.area_m2 * 10.7639).toFixed(1)} sq ft` : `${shape.area_m2.toFixed(2)} m\u00b2`}` : "", one.leather ? `, ${one.leather}` : ""), wrong.map((p) => says(p)),
      h("div", { class: "next" }, one.file ? null : h("button", { class: "b", "data-at": "hide-trace", onclick: () => this.trace(one) }, one.outline ? "Change its outline" : "Trace it instead"), h("button", { class: "b", onclick: () => { this.mode = "backbone"; this.step = "spine"; this.backbone = []; this.refresh(); } }, "Backbone"), h("button", { class: "b plain", "aria-label": `take ${one.name} out`, onclick: () => { this.laid = null; this.app.change([{ keys: ["hide", one.row], value: null }]); } }, icon("away"))),
      (one.zone || []).length ? h("ul", { class: "rows" }, one.zone.map((zone, k) => h("li", null, h("span", null, `zone: ${zone.name}`), h("button", { class: "b plain", "aria-label": `take out zone ${k + 1}, ${zone.name}`, onclick: () => { this.laid = null; this.app.change([{ keys: ["hide", one.row, "zone", k], value: null }]); } }, icon("away"))))) : null,
      (one.flaw || []).length ? h("ul", { class: "rows" }, one.flaw.map((flaw, k) => h("li", null, h("span", null, `${flaw.kind}: ${flaw.grade}`), h("button", { class: "b plain", "aria-label": `take out flaw ${k + 1}, ${flaw.kind}`, onclick: () => this.app.change([{ keys: ["hide", one.row, "flaw", k], value: null }]) }, icon("away"))))) : null];
  }

  trace(one) {
    this.mode = "outline"; this.step = "ring"; this.told = [];
    this.points = one && one.outline ? one.outline.map((p) => p.map((v) => this.mm(v))) : []; this.backbone = one && one.backbone ? one.backbone.map((p) => p.map((v) => this.mm(v))) : [];
    this.refresh();
  }

  number(id, label, value, onset, said) { return h("div", { class: "field" }, h("label", { for: id }, label), h("div", { class: "in" }, h("input", { id, "data-at": id, autocomplete: "off", inputmode: "decimal", value: String(value), onchange: (e) => onset(e.target.value) }), h("span", { class: "unit" }, said))); }

  tracing(unit) {
    const spineOnly = this.mode === "backbone", mm = (text, usual) => { const v = toMm(text, unit); return v === null ? usual : v; };
    const list = spineOnly ? this.backbone : this.points, last = this.step === "spine" ? this.backbone : list, cell = (p, c, k) => h("td", null, h("input", { value: String(Math.round(p[c])), inputmode: "decimal", "data-at": `pt-${k}-${c}`, "aria-label": `${c ? "off" : "along"}, point ${k + 1}, mm`, onchange: (e) => { p[c] = Number(e.target.value) || 0; this.refresh(); } }));
    return h("section", null, h("h2", null, spineOnly ? "The backbone" : "Trace the hide"),
      h("p", { class: "small quiet" }, spineOnly || this.step === "spine" ? "Tap the tail, then the neck." : "Lay the hide flat, grain side up, tail at the left, on squares of 100 mm. Tap the outline once round; points can be dragged, and tapped more closely where it bends."),
      spineOnly ? null : h("div", { class: "pair" }, this.number("grid-long", "Squares: long", Math.round(this.length), (text) => { this.length = Math.max(300, mm(text, this.length)); this.refresh(); }, "mm"), this.number("grid-wide", "and wide", Math.round(this.width), (text) => { this.width = Math.max(300, mm(text, this.width)); this.refresh(); }, "mm")),
      spineOnly ? null : choice("trace-step", [["ring", "outline"], ["spine", "backbone"]], this.step, (word) => { this.step = word; if (word === "spine" && this.backbone.length === 2) this.backbone = []; this.refresh(); }, "What is tapped"),
      h("p", { class: "small" }, `${this.points.length} points, backbone ${this.backbone.length === 2 ? "drawn" : "not drawn yet"}`),
      h("details", { open: list.length > 0 && list.length < 5 ? true : null }, h("summary", null, "Points as figures, mm"), h("table", { class: "pts" }, h("thead", null, h("tr", null, h("th", { scope: "col" }, "along"), h("th", { scope: "col" }, "off"), h("th", { scope: "col" }, h("span", { class: "unseen" }, "take out")))), h("tbody", null, list.map((p, k) => h("tr", null, cell(p, 0, k), cell(p, 1, k), h("td", null, h("button", { class: "b plain", type: "button", "aria-label": `take out point ${k + 1}`, onclick: () => { list.splice(k, 1); this.refresh(); } }, icon("away"))))))),
        h("button", { class: "b", type: "button", "data-at": "pt-add", onclick: () => { const last = list[list.length - 1] || [0, 0]; if (!spineOnly || list.length < 2) list.push([last[0] + 100, last[1]]); this.refresh(); } }, icon("plus"), "Point")),
      this.told.map((p) => says(p)),
      h("div", { class: "next" }, h("button", { class: "b main", "data-at": "trace-save", disabled: (!spineOnly && this.points.length < 3) || this.backbone.length < 2, onclick: () => this.saveTrace() }, "Write it into the sheet"), h("button", { class: "b", disabled: !last.length, onclick: () => { last.pop(); this.refresh(); } }, "Last point back"), h("button", { class: "b plain", onclick: () => { this.mode = "look"; this.adding = null; this.refresh(); } }, "Not now")));
  }

  async saveTrace() {
    const outline = this.points.map((p) => this.pair(p)), backbone = this.backbone.map((p) => this.pair(p)), one = this.one, spineOnly = this.mode === "backbone";
    this.mode = "look"; this.laid = null;
    if (this.adding === "trace") { const name = this.name(); this.adding = null; this.hide = this.rows.length; await this.app.row(["hide"], { name, outline, backbone }); } else await this.app.change([...(spineOnly ? [] : [{ keys: ["hide", one.row, "outline"], value: outline }, ...(one.area !== undefined ? [{ keys: ["hide", one.row, "area"], value: null }] : [])]), { keys: ["hide", one.row, "backbone"], value: backbone }]);
    this.refresh();
  }

  name() { const taken = this.rows.map((row) => row.name); let k = this.rows.length + 1; while (taken.includes(`hide ${k}`)) k += 1; return this.given && !taken.includes(this.given) ? this.given : `hide ${k}`; }

  another(unit) {
    const inch = unit === "in", area = h("input", { id: "hide-area", "data-at": "hide-area", inputmode: "decimal", autocomplete: "off" }), scale = h("input", { id: "hide-scale", "data-at": "hide-scale", inputmode: "decimal", value: "1" }), file = h("input", { id: "hide-file", type: "file", accept: ".svg,.dxf" });
    const told = (text) => { this.told = [{ code: "", text }]; this.refresh(); };
    const go = async (event) => {
      event.preventDefault();
      if (this.adding === "area") {
        const value = typed(area.value); if (typeof value !== "number" || value <= 0) { told("Write its area as the tannery marked it, or as measured."); return; }
        const name = this.name(); this.adding = null; this.told = []; this.hide = this.rows.length; this.laid = null; await this.app.row(["hide"], { name, area: inch ? Math.round(value / 10.7639 * 1000) / 1000 : value });
      } else if (this.adding === "trace") this.trace(null); else await this.send(file.files[0], Number(scale.value), told);
    };
    return h("section", null, h("h2", null, "A hide"), h("form", { onsubmit: go },
      h("div", { class: "field" }, h("label", { for: "hide-name" }, "What it is called"), h("div", { class: "in" }, h("input", { id: "hide-name", "data-at": "hide-name", class: "words", maxlength: 40, value: this.given || this.name(), oninput: (e) => { this.given = e.target.value.trim(); } }))),
      h("div", { class: "field" }, h("span", { class: "label" }, "How it is known"), choice("hide-how", [["area", "by its area"], ["trace", "traced"], ["file", "from a drawing"]], this.adding, (word) => { this.adding = word; this.told = []; this.refresh(); }, "How it is known")),
      this.adding === "area" ? h("div", { class: "field" }, h("label", { for: "hide-area" }, "Measured area"), h("div", { class: "in" }, area, h("span", { class: "unit" }, inch ? "sq ft" : "m\u00b2"))) : null,
      this.adding === "file" ? [h("p", { class: "small quiet" }, "SVG or DXF, up to 800 kB. Its layers say what lines are: outline, backbone, grades of flaws, zones. It is kept beside the sheet."), h("div", { class: "field" }, h("label", { for: "hide-file" }, "Drawing"), file), h("div", { class: "field" }, h("label", { for: "hide-scale" }, "One unit of it is"), h("div", { class: "in" }, scale, h("span", { class: "unit" }, "mm")))] : null,
      this.told.map((p) => says(p)),
      h("div", { class: "next" }, h("button", { class: "b main", type: "submit", "data-at": "hide-go", disabled: Boolean(this.busy) }, this.busy || (this.adding === "trace" ? "Trace it" : "Take it")), h("button", { class: "b plain", type: "button", onclick: () => { this.adding = null; this.told = []; this.refresh(); } }, "Not now"))));
  }

  async send(file, scale, told) {
    if (!file) { told("Choose a drawing first."); return; }
    if (file.size > MOST_BYTES) { told(`The drawing has ${Math.round(file.size / 1000)} kB; up to 800 are taken. Save it with fewer points.`); return; }
    const raw = new Uint8Array(await file.arrayBuffer());
    let text = ""; for (let k = 0; k < raw.length; k += 8192) text += String.fromCharCode(...raw.subarray(k, k + 8192));
    this.busy = "Being read"; this.told = [];
    const name = this.name(); this.hide = this.rows.length;
    let wrong = null;
    await this.app.send(async (base) => { try { return await post(at(this.app.sheet.sheet, "drawing"), { base, name, file: file.name, scale, data: btoa(text) }); } catch (fault) { if (fault.code === "W308" || !fault.status) throw fault; wrong = fault; return this.app.sheet; } }, []);
    this.busy = "";
    if (wrong) { this.told = wrong.problems; this.refresh(); } else { this.adding = null; this.laid = null; this.refresh(); }
  }

  flawForm(unit) {
    const f = this.flaw;
    if (!f) return h("section", null, h("h3", null, "A flaw"), h("p", { class: "small quiet" }, "Tap where it is on the hide."), h("button", { class: "b", "data-at": "flaw-add", onclick: () => { const o = this.shape.outline, mid = [0, 1].map((c) => Math.round(o.reduce((sum, p) => sum + p[c], 0) / o.length / SNAP_MM) * SNAP_MM); this.flaw = { kind: "brand", grade: "unusable", round: true, at: mid, radius: 50, points: [] }; this.refresh(); } }, icon("plus"), "In the middle of it"));
    const ready = f.round ? f.radius > 0 : f.points.length > 2;
    return h("section", null, h("h3", null, "A flaw"), h("form", { onsubmit: (event) => { event.preventDefault(); if (ready) this.saveFlaw(); } },
      h("div", { class: "field" }, h("label", { for: "flaw-kind" }, "What it is"), h("div", { class: "in" }, h("input", { id: "flaw-kind", "data-at": "flaw-kind", class: "words", maxlength: 40, value: f.kind, oninput: (e) => { f.kind = e.target.value; } }))),
      h("div", { class: "field" }, h("label", { for: "flaw-grade" }, "How bad"), h("select", { id: "flaw-grade", "data-at": "flaw-grade", onchange: (e) => { f.grade = e.target.value; } }, GRADES.map(([word, text]) => h("option", { value: word, selected: word === f.grade }, text)))),
      choice("flaw-shape", [["round", "round"], ["ring", "chalk ring"]], f.round ? "round" : "ring", (word) => { f.round = word === "round"; if (!f.round && !f.points.length) f.points = [0, 1, 2, 3].map((k) => [f.at[0] + f.radius * [-1, 1, 1, -1][k], f.at[1] + f.radius * [-1, -1, 1, 1][k]]); this.refresh(); }, "Its form"),
      f.round ? [this.number("flaw-radius", "Its radius", Math.round(f.radius), (text) => { f.radius = Math.max(1, toMm(text, "mm") ?? f.radius); this.refresh(); }, "mm"), h("div", { class: "pair" }, ["along", "off"].map((word, c) => this.number(`flaw-${word}`, word, f.at[c], (text) => { f.at[c] = toMm(text, "mm") ?? f.at[c]; this.refresh(); }, "mm")))] : h("p", { class: "small quiet" }, "Tap more points of the ring, or drag them."),
      h("div", { class: "next" }, h("button", { class: "b main", type: "submit", "data-at": "flaw-write", disabled: !ready }, "Write it into the sheet"), h("button", { class: "b plain", type: "button", onclick: () => { this.flaw = null; this.refresh(); } }, "Not this"))));
  }

  async saveFlaw() {
    const f = this.flaw, row = { kind: f.kind.trim() || "flaw", grade: f.grade, ...(f.round ? { at: this.pair(f.at), radius: this.write(f.radius) } : { points: f.points.map((p) => this.pair(p)) }) };
    this.flaw = null; const again = Boolean(this.laid); this.laid = null;
    await this.app.row(["hide", this.one.row, "flaw"], row);
    if (again) this.lay();
  }

  // A zone drawn by hand; the first one takes the place of all that follow from the backbone.
  zoneForm() {
    const z = this.zone, own = (this.one.zone || []).length;
    if (!z) return null;
    return h("section", null, h("h3", null, "A zone"), h("p", { class: "small quiet" }, own ? "The zones of this hide are drawn by hand; another is added to them. Leather in no zone is used by pieces that may come from anywhere." : "Zones follow from the backbone until one is drawn by hand; then those drawn are the only ones of this hide. Tap all round it."),
      h("form", { onsubmit: (event) => { event.preventDefault(); if (z.points.length > 2) this.saveZone(); } },
        h("div", { class: "field" }, h("label", { for: "zone-name" }, "Which part of the hide"), h("select", { id: "zone-name", "data-at": "zone-name", onchange: (e) => { z.name = e.target.value; } }, ZONES.map((word) => h("option", { value: word, selected: word === z.name }, word)))),
        h("p", { class: "small" }, `${z.points.length} points`),
        h("details", null, h("summary", null, "Points as figures, mm"), h("table", { class: "pts" }, h("thead", null, h("tr", null, h("th", { scope: "col" }, "along"), h("th", { scope: "col" }, "off"))), h("tbody", null, z.points.map((p, k) => h("tr", null, [0, 1].map((c) => h("td", null, h("input", { value: String(Math.round(p[c])), inputmode: "decimal", "data-at": `zone-${k}-${c}`, "aria-label": `${c ? "off" : "along"}, point ${k + 1}, mm`, onchange: (e) => { p[c] = Number(e.target.value) || 0; this.refresh(); } }))))))),
          h("button", { class: "b", type: "button", "data-at": "zone-point", onclick: () => { const last = z.points[z.points.length - 1] || [0, 0]; z.points.push([last[0] + 100, last[1]]); this.refresh(); } }, icon("plus"), "Point")),
        h("div", { class: "next" }, h("button", { class: "b main", type: "submit", "data-at": "zone-write", disabled: z.points.length < 3 }, "Write it into the sheet"), h("button", { class: "b", type: "button", disabled: !z.points.length, onclick: () => { z.points.pop(); this.refresh(); } }, "Last point back"))));
  }

  async saveZone() {
    const row = { name: this.zone.name, points: this.zone.points.map((p) => this.pair(p)) }, again = Boolean(this.laid);
    this.zone.points = []; this.laid = null;
    await this.app.row(["hide", this.one.row, "zone"], row);
    if (again) this.lay(); else this.refresh();
  }

  // What a piece asks of a hide, where it is not the usual.
  askForm() {
    const piece = this.laid && this.laid.pieces.find((one) => one.label === this.picked && one.hide === this.one.row); if (!piece) return null;
    if (!this.asked || this.asked.of !== piece) this.asked = { of: piece, seen: piece.seen, zones: piece.zones, off: piece.off };
    const ask = this.asked, same = ask.seen === piece.seen && ask.off === piece.off && ask.zones.join() === piece.zones.join();
    return h("section", null, h("h3", null, "Where it may come from"), h("p", { class: "small quiet" }, `Where that comes from: ${piece.why}.`),
      h("div", { class: "field" }, h("label", { for: "ask-seen" }, "How it is seen"), h("select", { id: "ask-seen", "data-at": "ask-seen", onchange: (e) => { ask.seen = e.target.value; this.refresh(); } }, SEEN.map(([word, text]) => h("option", { value: word, selected: word === ask.seen }, text)))),
      h("fieldset", { class: "ticks" }, h("legend", null, "Zones"), ZONES.map((zone) => h("label", { class: "tick" }, h("input", { type: "checkbox", "data-at": `zone ${zone}`, checked: ask.zones.includes(zone), onchange: (e) => { ask.zones = ZONES.filter((one) => (one === zone ? e.target.checked : ask.zones.includes(one))); this.refresh(); } }), ` ${zone}`))),
      this.number("ask-off", "Its arrow off the backbone, at most", ask.off, (text) => { ask.off = Math.min(180, Math.max(0, Number(text) || 0)); this.refresh(); }, "degrees"),
      h("div", { class: "next" }, h("button", { class: "b main", "data-at": "ask-write", disabled: Boolean(this.busy) || same || !ask.zones.length, onclick: () => this.saveAsk(piece) }, "Write it into the sheet")));
  }

  async saveAsk(piece) {
    const ask = this.asked, told = { ...(ask.seen !== piece.seen ? { seen: ask.seen } : {}), ...(ask.zones.join() !== piece.zones.join() ? { zones: ask.zones } : {}), ...(ask.off !== piece.off ? { turn: ask.off } : {}) };
    const there = (this.app.sheet.placings || []).find((one) => Array.isArray(one.pieces) && one.pieces.length === 1 && one.pieces[0] === piece.name), keys = ["placing"], row = { pieces: [piece.name], ...told };
    const changes = there ? Object.entries(told).map(([key, value]) => ({ keys: [...keys, there.row, key], value })) : [], rows = there ? [] : [{ keys, row }];
    if (!await this.lay({ changes, rows })) return;
    if (there) await this.app.change(changes); else await this.app.row(keys, row);
    this.of = this.app.sheet.mark; this.asked = null; this.refresh();
    this.app.announce(`Where ${piece.label} may come from is in the sheet. Undo takes it back.`);
  }

  pinForm(unit) {
    const list = this.laid ? this.laid.pieces.filter((one) => one.hide === this.one.row) : [], piece = list.find((one) => one.label === this.picked) || null, by = piece ? this.moved[piece.label] || { x: 0, y: 0, turn: 0 } : null;
    if (!list.length) return h("section", null, h("h3", null, "Pin a piece"), h("p", { class: "small quiet" }, "Lay the pieces first; then drag one to where it is to stay."));
    const set = (part, value) => { const now = this.moved[piece.label] || { x: 0, y: 0, turn: 0 }; now[part] = value; this.moved[piece.label] = now; this.refresh(); };
    return h("section", null, h("h3", null, "Pin a piece"), h("p", { class: "small quiet" }, "Drag a piece to where it is to stay; the others are laid round it."),
      h("div", { class: "field" }, h("label", { for: "pin-piece" }, "Piece"), h("select", { id: "pin-piece", "data-at": "pin-piece", onchange: (e) => { this.picked = e.target.value || null; this.refresh(); } }, h("option", { value: "" }, "none yet"), list.map((one) => h("option", { value: one.label, selected: one === piece }, one.label + (one.pinned ? ", pinned" : ""))))),
      piece ? [h("div", { class: "pair" }, this.number("pin-x", "along", Math.round(piece.at[0] + by.x), (text) => set("x", (toMm(text, "mm") ?? piece.at[0]) - piece.at[0]), "mm"), this.number("pin-y", "off", Math.round(piece.at[1] + by.y), (text) => set("y", (toMm(text, "mm") ?? piece.at[1]) - piece.at[1]), "mm")),
        this.number("pin-turn", "Arrow off the backbone", Math.round((piece.turn + by.turn) * 10) / 10, (text) => set("turn", (Number(text) || 0) - piece.turn), "degrees"),
        h("div", { class: "next" }, h("button", { class: "b main", "data-at": "pin-write", disabled: Boolean(this.busy), onclick: () => this.pin(piece) }, "Pin it here"), h("button", { class: "b", onclick: () => set("turn", (by.turn + 180) % 360) }, "Turn it round"), piece.pinned ? h("button", { class: "b", onclick: () => this.letGo(piece) }, "Let it go") : null)] : null);
  }
}
