// Fit: what was off at a dry fit, pointed at on the piece; tried on the pieces, then written as a row of the sheet.
import { h, s, put, icon, choice } from "./dom.js";
import { at, post } from "./api.js";
import { linePath, pieceDrawing } from "./pieces.js";
import { typed } from "./lengths.js";
import { says } from "./measure.js";

// What can be noted: the word, what it is called, and what is asked for besides the piece.
const WHAT = [["take_in", "Take in", "stretch"], ["let_out", "Let out", "stretch"], ["off", "Seam off the ridge: move it over", "stretch"],
  ["padding", "Padding to be higher here (below 0: lower)", "amount"], ["stretched", "Leather found stretched, %", "percent"],
  ["loose", "Loose", ""], ["dimple", "Dimple", ""], ["drag line", "Drag line", "towards"], ["corner empty", "Corner empty", ""]];
const asks = (what) => WHAT.find(([word]) => word === what)[2];

export class Fit {
  constructor(app) { this.app = app; this.piece = null; this.edge = null; this.from = 0; this.to = 0; this.what = "take_in"; this.amount = ""; this.towards = ""; this.way = "along"; this.counted = "each layer"; this.alone = ""; this.round = null; this.tried = null; this.told = []; this.busy = false; }

  forget() { this.piece = null; this.edge = null; this.alone = ""; this.tried = null; this.told = []; this.round = null; this.amount = ""; }
  point(piece) { this.piece = `${piece.pad} ${piece.name}`; this.edge = null; this.alone = ""; this.tried = null; this.told = []; }

  show(root) {
    this.stand = h("div", { class: "stand piece-stand" }); this.side = h("div", { class: "side", tabindex: -1 });
    put(root, h("div", { class: "see" }, this.stand, this.side));
    this.refresh();
  }

  took() { this.refresh(); }
  answered() { if (this.stand && this.stand.isConnected) { if (!this.tried) this.told = []; this.refresh(); } }

  get pieces() { return this.app.answer && this.app.answer.level === "final" ? this.app.answer.pieces.filter((one) => one.marks.some((edge) => edge.places.length > 1)) : []; }
  get now() { const all = this.pieces; return all.find((one) => `${one.pad} ${one.name}` === this.piece) || all[0] || null; }

  refresh() {
    const piece = this.now;
    if (!piece) { put(this.stand, h("p", { class: "quiet pad" }, this.app.sheet.usable ? "The pieces appear here when the seat is computed exactly." : "Mend the sheet first, in Measure.")); put(this.side); return; }
    if (this.edge !== null && !piece.marks[this.edge]) this.edge = null;
    this.draw(piece); this.form(piece);
  }

  // The piece as it is, or as it would be; its marks; the stretch that is pointed at.
  draw(piece) {
    const would = this.tried && this.tried.pieces.find((one) => one.pad === piece.pad && one.name === piece.name);
    const svg = pieceDrawing(would || piece, null, null), box = (would || piece).box;
    svg.setAttribute("class", "piece whole");
    const size = Math.max(box[2] - box[0], (box[3] - box[1])) / 60;
    if (this.edge !== null) {
      const line = points(piece.edges[this.edge].points), places = piece.marks[this.edge], along = places.at;
      svg.append(s("path", { class: `p-stretch${would ? " was" : ""}`, d: linePath(between(line, along[this.from], along[this.to]).flat(), box) }));
      places.places.forEach((name, k) => {
        const [x, y] = put_(placeOn(line, along[k]), box), end = k === this.from || k === this.to;
        svg.append(s("circle", { class: `p-place${end ? " now" : ""}`, cx: x, cy: y, r: size * (end ? 0.75 : 0.5) }));
        const wide = box[2] - box[0], to = x > wide * 0.72 ? "end" : x < wide * 0.28 ? "start" : "middle";
        if (end) svg.append(s("text", { class: "p-name", x: x + (to === "end" ? -1 : to === "start" ? 1 : 0) * size * 1.2, y: to === "middle" ? y - size * 1.2 : y + size * 0.5, style: { textAnchor: to }, "font-size": size * 1.5 }, name));
      });
    }
    svg.addEventListener("click", (event) => this.tap(event, svg, piece, box));
    const all = this.pieces;
    const pick = h("select", { class: "b", "data-at": "fit-piece", "aria-label": "Which piece", onchange: (e) => { this.point(all[Number(e.target.value)]); this.refresh(); } }, all.map((one, k) => h("option", { value: k, selected: one === piece }, `${one.pad} ${one.name}`)));
    put(this.stand, svg, h("div", { class: "over" }, pick, would ? h("span", { class: "chip" }, "tried, not written") : null));
  }

  // A tap between two marks points at that stretch; another beside it on the same edge makes it longer.
  tap(event, svg, piece, box) {
    const to = svg.getScreenCTM(); if (!to) return;
    const at_ = new DOMPoint(event.clientX, event.clientY).matrixTransform(to.inverse()), p = [at_.x + box[0], box[3] - at_.y];
    let best = null;
    piece.edges.forEach((edge, k) => { if (piece.marks[k].places.length > 1) { const found = nearest(points(edge.points), p); if (!best || found.far < best.far) best = { ...found, k }; } });
    if (!best) return;
    const along = piece.marks[best.k].at;
    let low = 0; while (low < along.length - 2 && along[low + 1] <= best.at) low += 1;
    const beside = this.edge === best.k && (low < this.from || low >= this.to);
    [this.from, this.to] = beside ? [Math.min(this.from, low), Math.max(this.to, low + 1)] : [low, low + 1];
    this.edge = best.k; this.tried = null; this.told = [];
    this.refresh();
    this.app.announce(`${piece.marks[best.k].edge}, from ${piece.marks[best.k].places[this.from]} to ${piece.marks[best.k].places[this.to]}`);
  }

  form(piece) {
    const unit = this.app.sheet.unit, edge = this.edge === null ? null : piece.marks[this.edge], needs = asks(this.what), rows = this.app.sheet.fits || [];
    const rounds = rows.map((row) => Number(row.round) || 1), round = this.round ?? Math.max(1, ...rounds);
    const select = (name, label, options, chosen, onpick) => h("div", { class: "field" }, h("label", { for: name }, label), h("select", { id: name, "data-at": name, onchange: (e) => { onpick(e.target.value); this.tried = null; this.refreshKept(); } }, options.map(([value, text]) => h("option", { value, selected: String(value) === String(chosen) }, text))));
    const named = piece.marks.map((one, k) => [k, one]).filter(([, one]) => one.places.length > 1);
    put(this.side, h("section", null, h("h2", null, "After a dry fit"),
      h("p", { class: "small quiet" }, "Point at the stretch on the piece: tap its edge between two marks, then beside it to make it longer. Or pick edge and marks here."),
      h("form", { onsubmit: (event) => { event.preventDefault(); this.try(piece); } },
        select("fit-what", "What is off", WHAT, this.what, (word) => { this.what = word; }),
        needs === "percent" || !needs ? null : select("fit-edge", "Edge", [["", "not pointed at yet"], ...named.map(([k, one]) => [k, one.edge])], this.edge ?? "", (word) => { this.edge = word === "" ? null : Number(word); this.from = 0; this.to = 1; }),
        (needs === "stretch" || needs === "amount") && edge ? h("div", { class: "pair" }, select("fit-from", "From mark", edge.places.map((one, k) => [k, one]).slice(0, -1), this.from, (word) => { this.from = Number(word); this.to = Math.max(this.to, this.from + 1); }), select("fit-to", "To mark", edge.places.map((one, k) => [k, one]).slice(1), this.to, (word) => { this.to = Number(word); this.from = Math.min(this.from, this.to - 1); })) : null,
        needs && needs !== "towards" ? this.amountField(needs, unit) : null,
        needs === "stretch" ? h("div", { class: "field" }, h("span", { class: "label" }, "Counted"), choice("fit-counted", [["each layer", "each layer"], ["in all", "both together"]], this.counted, (word) => { this.counted = word; this.tried = null; }, "Counted")) : null,
        this.sidesField(piece),
        needs === "percent" ? h("div", { class: "field" }, h("span", { class: "label" }, "Which way"), choice("fit-way", [["along", "along"], ["across", "across the backbone"]], this.way, (word) => { this.way = word; }, "Which way")) : null,
        h("div", { class: "field" }, h("label", { for: "fit-round" }, "Which dry fit"), h("div", { class: "in" }, h("input", { id: "fit-round", "data-at": "fit-round", type: "number", min: 1, max: 99, value: String(round), onchange: (e) => { this.round = Number(e.target.value) || 1; this.tried = null; } }))),
        this.told.map((p) => says(p)),
        h("button", { class: "b", "data-at": "fit-try", type: "submit", disabled: this.busy }, this.busy ? "Being tried" : "Try it")),
      this.tried ? this.outcome(piece) : null), this.history(rows));
  }

  amountField(needs, unit) {
    const name = needs === "percent" ? "By how much, %" : "By how much";
    return h("div", { class: "field" }, h("label", { for: "fit-amount" }, name), h("div", { class: "in" }, h("input", { id: "fit-amount", "data-at": "fit-amount", inputmode: unit === "in" ? "text" : "decimal", autocomplete: "off", value: this.amount, oninput: (e) => { this.amount = e.target.value; if (this.tried) { this.tried = null; this.refreshKept(); } } }), h("span", { class: "unit" }, needs === "percent" ? "%" : unit)));
  }

  // Whether it is off on both sides of the seat or on one: asked where the piece, or what is sewn to the edge, is a mirrored pair.
  sides(piece) {
    if (piece.panels.length > 1) return [["", "both sides"], ...piece.panels.map((name) => [name, `${name} alone`])];
    const seam = this.edge === null ? null : piece.edges[this.edge].seam;
    const paired = seam && this.pieces.some((one) => one.panels.length > 1 && one.edges.some((edge) => edge.seam === seam || edge.over === seam));
    return paired ? [["", "both sides"], [piece.panels[0], "this side alone"]] : [];
  }
  sidesField(piece) {
    const sides = asks(this.what) ? this.sides(piece) : [];
    if (!sides.some(([name]) => name === this.alone)) this.alone = "";
    if (!sides.length) return null;
    return h("div", { class: "field" }, h("span", { class: "label" }, "On which side"), choice("fit-alone", sides, this.alone, (word) => { this.alone = word; this.tried = null; }, "On which side"));
  }

  refreshKept() { this.app.keepFocus(() => this.refresh()); }

  row(piece) {
    const row = { round: this.round ?? Math.max(1, ...(this.app.sheet.fits || []).map((one) => Number(one.round) || 1)), piece: this.alone || piece.panels[0], ...(this.alone ? { alone: true } : {}) }, needs = asks(this.what), drawn = this.edge === null ? null : piece.marks[this.edge];
    // The piece that is drawn over has names of its own for the same places.
    const edge = drawn && this.alone && this.alone !== piece.panels[0] ? drawn.over : drawn;
    const value = typed(this.amount), missing = (text) => { this.told = [{ code: "", where: "", text, warning: false }]; return null; };
    if (needs && needs !== "towards" && value === null) return missing("Write by how much.");
    if (drawn && !edge) return missing("Its marks are not known on that side: write the row with trimloft fit.");
    if ((needs === "stretch" || needs === "towards") && !edge) return missing("Point at an edge of the piece.");
    if (needs === "stretch") return { ...row, edge: edge.edge, from: edge.places[this.from], to: edge.places[this.to], [this.what === "let_out" ? "let_out" : "take_in"]: value, counted: this.counted, ...(this.what === "off" ? { found: "seam off the ridge" } : {}) };
    if (needs === "percent") return typeof value === "number" ? { ...row, stretched: value / 100, way: this.way } : missing("Write a number of per cent.");
    if (needs === "amount") return { ...row, padding: value, ...(edge ? { edge: edge.edge, from: edge.places[this.from], to: edge.places[this.to] } : {}) };
    return { ...row, found: this.what, ...(needs === "towards" ? { towards: edge.edge } : {}) };
  }

  async try(piece) {
    this.told = []; this.tried = null;
    const row = this.row(piece);
    if (!row) { this.refreshKept(); return; }
    this.busy = true; this.refreshKept();
    try { await this.app.settled(); const found = await post(at(this.app.sheet.sheet, "try-fit"), { row }); if (found.refused.length) this.told = found.refused; else { this.tried = found; this.app.announce(found.words.join("; ") || "Nothing moves."); } } catch (fault) { this.told = fault.problems && fault.problems.length ? fault.problems : [{ code: "", text: fault.message }]; }
    this.busy = false; this.refreshKept();
  }

  // What the row would do, and the button that writes it.
  outcome(piece) {
    const others = this.tried.pieces.filter((one) => one.pad !== piece.pad || one.name !== piece.name);
    return h("div", { class: "notice tried" }, h("h3", null, this.tried.words.length ? "What it would move" : "It moves nothing"), this.tried.words.map((one) => h("p", null, one)), this.tried.problems.map((p) => says(p)),
      others.length ? h("div", { class: "thumbs" }, others.map((one) => h("figure", null, pieceDrawing(one, null, null), h("figcaption", { class: "small" }, one.name)))) : null,
      h("p", { class: "small quiet" }, "Full line: as it would be. Long dashes with two dots: as it is."),
      h("div", { class: "next" }, h("button", { class: "b main", "data-at": "fit-write", onclick: () => this.write() }, "Write it into the sheet"), h("button", { class: "b plain", onclick: () => { this.tried = null; this.refresh(); } }, "Not this")));
  }

  async write() { const row = this.tried.row; this.tried = null; this.amount = ""; await this.app.row(["fit"], row); this.app.announce("Written. Undo takes it out again."); }

  history(rows) {
    if (!rows.length) return null;
    const told = (row) => [row.piece, row.edge, row.from !== undefined ? `from ${row.from} to ${row.to}` : null, row.take_in !== undefined ? `taken in ${row.take_in}` : null, row.let_out !== undefined ? `let out ${row.let_out}` : null, row.alone ? "on this side alone" : null, row.found, row.towards ? `towards ${row.towards}` : null, row.stretched !== undefined ? `stretched ${Math.round(row.stretched * 1000) / 10} %` : null, row.padding !== undefined ? `padding ${row.padding} higher` : null].filter(Boolean).join(", ");
    return h("section", null, h("h2", null, "Noted so far"), h("p", { class: "small quiet" }, "Amounts of several dry fits add up."), h("ul", { class: "rows" }, rows.map((row) => h("li", null, h("span", null, h("b", null, `Dry fit ${row.round ?? 1}: `), told(row)), h("button", { class: "b plain", "aria-label": `take out row ${row.row + 1} of the dry fits`, onclick: () => this.app.change([{ keys: ["fit", row.row], value: null }]) }, icon("away"))))));
  }
}

const points = (flat) => { const out = []; for (let k = 0; k < flat.length; k += 2) out.push([flat[k], flat[k + 1]]); return out; };
const put_ = ([x, y], box) => [x - box[0], box[3] - y];
function placeOn(line, t) { const k = Math.min(Math.floor(t), line.length - 2), u = t - k; return [line[k][0] + u * (line[k + 1][0] - line[k][0]), line[k][1] + u * (line[k + 1][1] - line[k][1])]; }
function between(line, a, b) { return [placeOn(line, a), ...line.filter((_, k) => k > a && k < b), placeOn(line, b)]; }
function nearest(line, p) {
  let best = { far: Infinity, at: 0 };
  for (let k = 0; k < line.length - 1; k += 1) {
    const [a, b] = [line[k], line[k + 1]], dx = b[0] - a[0], dy = b[1] - a[1], t = Math.min(1, Math.max(0, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / (dx * dx + dy * dy || 1)));
    const far = Math.hypot(a[0] + t * dx - p[0], a[1] + t * dy - p[1]);
    if (far < best.far) best = { far, at: k + t };
  }
  return best;
}
