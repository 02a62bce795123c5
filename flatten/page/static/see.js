// See and Decide: the seat on the left, beside it the cut, the piece, or the few numbers that matter.
import { h, put, icon, choice } from "./dom.js";
import { SeatView, VIEWS, KEYS, css, canDraw } from "./seat.js";
import { slice, cutDrawing } from "./cut.js";
import { pieceDrawing } from "./pieces.js";
import { at, blob, post } from "./api.js";
import { shown, bare, toMm } from "./lengths.js";
import { plain, says } from "./measure.js";
import { Variants, Reliefs } from "./choices.js";

const STILL = { panels: "panels", bare: "support", padded: "padded", settled: "settled", pleated: "panels", demand: "stretch", crush: "compression" };

export class See {
  constructor(app) {
    this.app = app; this.view = "panels"; this.cut = { pad: 0, axis: 0, share: 0.5 }; this.panel = null; this.seam = null;
    this.variants = new Variants(app); this.reliefs = new Reliefs(app); this.draws = canDraw(); this.seat3 = null; this.before = null;
  }

  show(root, deciding) {
    this.deciding = deciding;
    this.stand = h("div", { class: "stand" });
    this.side = h("div", { class: "side", tabindex: -1 });
    put(root, h("div", { class: "see" }, this.stand, this.side));
    this.stage(); this.refresh();
  }

  stage() {
    const seat = this.app.seat, rests = !seat || seat.pads.some((pad) => pad.rests), pleated = Boolean(seat && seat.pads.some((pad) => pad.valleys.length));
    const shownViews = VIEWS.filter(([word]) => rests || !["padded", "settled", "crush"].includes(word)).filter(([word]) => word !== "pleated" || pleated);
    if (!shownViews.some(([word]) => word === this.view)) this.view = "panels";
    this.rests = rests; this.pleated = pleated;
    const views = choice("view", shownViews, this.view, (word) => { this.view = word; this.paint(); this.key(); }, "What is shown");
    const looks = h("div", { class: "set" }, [["corner", "Corner"], ["front", "Front"], ["side", "Side"], ["rear", "Rear"], ["top", "Top"]].map(([word, text]) => h("button", { class: "b plain", onclick: () => this.seat3 && this.seat3.look(word) }, text)));
    this.keybox = h("div", { class: "key", hidden: true });
    this.slider = h("input", { type: "range", min: 0, max: 1000, value: this.cut.share * 1000, "aria-label": "Where the cut goes", oninput: (e) => { this.cut.share = Number(e.target.value) / 1000; this.slice(); } });
    this.place = h("output", null, "");
    this.padpick = h("span", null);
    const line = h("div", { class: "cutline" }, h("b", { class: "small" }, "Cut"), choice("axis", [["0", "along"], ["1", "across"]], String(this.cut.axis), (word) => { this.cut.axis = Number(word); this.slice(); }, "Direction of the cut"), this.padpick, this.slider, this.place);
    put(this.stand, h("div", { class: "over" }, views, this.draws ? looks : null), this.keybox, h("div", { class: "under" }, line));
    const three = this.three();
    if (three) { three.onpick = (panel) => this.pick(panel); three.marks(null); three.put(this.stand); }
    if (!this.draws) { this.still = h("img", { class: "still", alt: "The seat, as a still picture" }); this.stand.prepend(this.still); looks.remove(); }
    this.key();
  }

  // The one picture of the seat, which every part of the work shows in its turn; null where it cannot be drawn.
  three() {
    if (!this.draws) return null;
    try { this.seat3 = this.seat3 || new SeatView(() => {}); } catch { this.draws = false; this.seat3 = null; }
    return this.seat3;
  }

  leave() { if (this.seat3) this.seat3.canvas.remove(); }

  took() { this.sidebar(); this.slice(); }

  newSeat(before) { this.before = before || null; if (this.stand && this.stand.isConnected) this.refresh(); }

  refresh() {
    const { seat, answer } = this.app;
    if (!seat || !answer) { this.sidebar(); return; }
    if (this.rests !== seat.pads.some((pad) => pad.rests) || this.pleated !== seat.pads.some((pad) => pad.valleys.length > 0)) this.stage();
    if (this.seat3 && this.seat3.seat !== seat) this.seat3.set(seat);
    if (this.cut.pad >= seat.pads.length) this.cut.pad = 0;
    put(this.padpick, seat.pads.length > 1 ? h("select", { class: "b", "aria-label": "Which pad is cut", onchange: (e) => { this.cut.pad = Number(e.target.value); this.slice(); } }, seat.pads.map((pad, k) => h("option", { value: k, selected: k === this.cut.pad }, pad.name))) : null);
    this.paint(); this.sidebar(); this.slice();
  }

  paint() {
    if (this.seat3 && this.seat3.seat) { if (this.seat3.view !== this.view) this.seat3.show(this.view); this.seat3.light(this.panel, this.seam); return; }
    if (!this.still || !this.app.answer) return;
    const wanted = `${this.app.sheet.sheet}/${this.app.answer.id}/${this.view}`;
    if (this.still.dataset.of === wanted) return;
    this.still.dataset.of = wanted;
    blob(at(this.app.sheet.sheet, `still?show=${STILL[this.view]}&side=front`)).then((data) => { this.still.src = URL.createObjectURL(data); }).catch((fault) => this.app.told(fault));
  }

  key() {
    const key = KEYS[this.view];
    this.keybox.hidden = !key;
    if (!key) return;
    const most = this.view === "settled" && this.seat3 && this.seat3.reach ? shown(this.seat3.reach, this.app.sheet.unit, 1) : null;
    put(this.keybox, h("b", null, key.name), h("i", { style: { background: css(key.stops) } }), h("span", null, key.words.map((word) => h("span", null, word === "most" && most ? most : word))), key.over ? h("span", null, h("span", null, "over:"), h("i", { style: { background: `rgb(${key.over.join()})`, minWidth: "60px" } })) : null);
  }

  slice() {
    const { seat } = this.app;
    if (!seat) return;
    const pad = seat.pads[this.cut.pad], axis = this.cut.axis, e = pad.inverse.elements;
    let low = Infinity, high = -Infinity;
    for (let k = 0; k < pad.settled.length; k += 3) { const v = e[axis] * pad.settled[k] + e[4 + axis] * pad.settled[k + 1] + e[8 + axis] * pad.settled[k + 2] + e[12 + axis]; if (v < low) low = v; if (v > high) high = v; }
    const place = low + (high - low) * (0.004 + 0.992 * this.cut.share);
    this.cut.place = place;
    const unit = this.app.sheet.unit, now = slice(pad, "settled", axis, place);
    this.place.textContent = `${axis ? "y" : "x"} ${shown(place, unit)}`;
    this.slider.setAttribute("aria-valuetext", this.place.textContent);
    if (this.seat3) this.seat3.showCut(now);
    if (!this.cutbox) return;
    const old = this.before && this.before.pads[this.cut.pad] && this.before.pads[this.cut.pad].name === pad.name ? slice(this.before.pads[this.cut.pad], "settled", axis, place).lines : [];
    put(this.cutbox, cutDrawing(slice(pad, "bare", axis, place).lines, slice(pad, "padded", axis, place).lines, now.lines, old, unit));
  }

  pick(panel) { this.panel = panel; this.seam = null; this.paint(); this.sidebar(); this.slice(); if (panel) this.toPiece(); }
  // Beside the numbers of Decide the piece stands lower down: the side is moved to it.
  toPiece() { const piece = this.side.querySelector(".ofpiece"); this.side.scrollTop = piece && this.deciding ? piece.offsetTop - this.side.offsetTop : 0; }
  light(seam) { this.seam = this.seam === seam ? null : seam; this.paint(); this.sidebar(); this.slice(); }

  sidebar() {
    const { answer, sheet } = this.app;
    if (!answer) { put(this.side, this.waiting()); return; }
    const piece = this.panel ? answer.pieces.find((one) => one.panels.includes(this.panel)) : null;
    this.cutbox = h("div", null);
    const parts = [];
    if (this.deciding) parts.push(this.decide());
    if (piece) parts.push(this.piece(piece));
    parts.push(h("section", null, h("h2", null, "The cut"), this.cutbox, h("p", { class: "small quiet" }, this.before ? "Full line: now. Dashed: before the last change. " : "", this.app.seat && this.app.seat.pads[this.cut.pad].on_frame ? "Brown: what carries it. Yellow: padding, free." : "Brown: the core or board."), this.roundbox = h("div", null, this.sections(answer, sheet))));
    if (!piece && !this.deciding) parts.push(this.verdicts(answer));
    put(this.side, parts);
  }

  waiting() {
    const wrong = this.app.sheet.problems.filter((p) => !p.warning);
    return h("section", null, h("h2", null, wrong.length ? "Not yet" : "Being computed"), wrong.length ? wrong.slice(0, 6).map((p) => says(p, true)) : h("p", { class: "quiet" }, "The seat appears here in a moment."), this.app.refused ? this.app.refused.map((p) => says(p, true)) : null,
      wrong.length || this.app.refused ? h("button", { class: "b", onclick: () => this.app.to("measure") }, icon("back"), "Back to Measure") : null);
  }

  piece(piece) {
    const unit = this.app.sheet.unit, mm = (v) => shown(v, unit);
    const seams = piece.edges.filter((edge) => edge.seam);
    return h("section", { class: "ofpiece" },
      h("div", { class: "line verdict-line", style: { display: "flex", gap: "10px", alignItems: "center", justifyContent: "space-between" } }, h("h2", null, piece.name), h("button", { class: "b plain", onclick: () => this.pick(null) }, icon("back"), "Seat")),
      pieceDrawing(piece, this.seam, (seam) => seam && this.light(seam)),
      h("p", null, badge(piece), " ", h("b", null, piece.verdict || "not judged"), ", ", piece.count, ", ", mm(piece.box[2] - piece.box[0]), " x ", mm(piece.box[3] - piece.box[1])),
      h("p", { class: "small" }, piece.next),
      seams.length ? [h("h3", null, "Its seams"), h("ul", { class: "edges" }, seams.map((edge) => h("li", null, h("button", { "aria-pressed": String(this.seam === edge.seam), onclick: () => this.light(edge.seam) }, h("span", null, edge.name), h("span", { class: "quiet small" }, edge.kind)))))] : null,
      piece.fitted && piece.fitted.length ? h("ul", { class: "small" }, piece.fitted.map((one) => h("li", null, one))) : null,
      h("button", { class: "b", onclick: () => this.app.toFit(piece) }, "After a dry fit: note it here"),
      this.reliefs.part(piece), figures(piece));
  }

  // The first level of an answer: how round the usual cuts come out, before the seat is known.
  rounded(rows) {
    const answer = this.app.answer;
    if (!answer) return;
    for (const row of rows) for (const pad of answer.pads) if (pad.name === row.pad) for (const cut of pad.sections) if (cut.name === row.name) { cut.was_mm = cut.was_mm === undefined ? cut.radius_mm : cut.was_mm; Object.assign(cut, { radius_mm: row.radius_mm, bare_mm: row.bare_mm }); }
    if (this.roundbox && this.roundbox.isConnected) put(this.roundbox, this.sections(answer, this.app.sheet));
  }

  sections(answer, sheet) {
    const unit = sheet.unit, pads = answer.pads.filter((pad) => pad.sections.length);
    return [pads.map((pad) => [pads.length > 1 ? h("h3", null, pad.name) : null, h("dl", null, pad.sections.map((cut) => [h("dt", null, cut.side), h("dd", null, cut.radius_mm === null ? "straight" : `r ${shown(cut.radius_mm, unit)}`, cut.bare_mm === null ? "" : `, bare ${shown(cut.bare_mm, unit)}`, cut.was_mm !== undefined && cut.was_mm !== null && Math.abs(cut.was_mm - cut.radius_mm) > 0.5 ? `, was ${shown(cut.was_mm, unit)}` : "")])),
      pad.sections.filter((cut) => cut.proposal && cut.proposal.layers.length).map((cut) => h("div", { class: "notice" }, h("p", null, `For ${shown(cut.proposal.wanted_mm, unit)} at the ${cut.side}: ${cut.proposal.text}`), h("button", { class: "b", onclick: () => this.take(pad, cut.proposal) }, "Lay it so")))]),
      this.app.seat && this.app.seat.pads[this.cut.pad].on_frame ? h("button", { class: "b", onclick: (e) => this.gauge(e.currentTarget) }, icon("down"), "Print a gauge of this cut") : null];
  }

  async take(pad, proposal) {
    const index = this.app.answer.pads.indexOf(pad);
    for (const layer of proposal.layers) {
      const row = { material: layer.material, thickness: layer.thickness, where: layer.where };
      for (const key of ["within", "taper", "below"]) if (layer[key] !== null && layer[key] !== 0) row[key] = layer[key];
      await this.app.row(["pad", index, "layer"], row);
    }
  }

  async gauge(button) {
    button.disabled = true;
    try {
      const found = await post(at(this.app.sheet.sheet, "section"), { pad: this.app.seat.pads[this.cut.pad].name, direction: this.cut.axis ? "across" : "along", place_mm: this.cut.place });
      if (found.gauges) this.app.save(new Blob([Uint8Array.from(atob(found.gauges), (c) => c.charCodeAt(0))], { type: "application/pdf" }), "gauges.pdf");
      else this.app.notice("This cut goes over no edge that a gauge could be held to.");
    } catch (fault) { this.app.told(fault); }
    button.disabled = false;
  }

  verdicts(answer) {
    return h("section", null, h("h2", null, "The pieces"), h("p", null, answer.overall), h("ul", { class: "verdicts" }, answer.pieces.map((piece) => h("li", null,
      h("button", { class: "line", onclick: () => this.pick(piece.panels[0]) }, badge(piece), h("b", null, piece.name), h("span", { class: "quiet small" }, piece.verdict || "")), piece.tight ? h("p", { class: "small" }, piece.next) : null))),
      answer.pads.flatMap((pad) => pad.words.map((word) => h("p", { class: "small quiet" }, `${pad.name}: ${word}`))), notes(answer));
  }

  // Decide: the numbers that change the seat, each turned and followed.
  decide() {
    const { answer, sheet } = this.app;
    const changes = answer.changes || [];
    return h("section", null, h("h2", null, "Turn a number"), this.knobs(),
      h("h3", { style: { marginTop: "14px" } }, "What changed"), changes.length ? h("ul", { class: "changes" }, changes.map((row) => h("li", { class: row.better === true ? "better" : row.better === false ? "worse" : "" }, row.text, row.better === true ? h("span", { class: "unseen" }, " better") : row.better === false ? h("span", { class: "unseen" }, " worse") : null))) : h("p", { class: "quiet small" }, "Nothing yet: turn a number, and what it does to the seat is said here."),
      h("h3", { style: { marginTop: "14px" } }, answer.overall), h("ul", { class: "verdicts" }, answer.pieces.map((piece) => h("li", null, h("button", { class: "line", onclick: () => this.pick(piece.panels[0]) }, badge(piece), h("b", null, piece.name), h("span", { class: "quiet small" }, piece.verdict || "")), figures(piece)))),
      this.variants.part(), this.wrong(sheet), notes(answer));
  }

  wrong(sheet) { const list = sheet.problems.filter((p) => !p.warning); return list.length ? h("div", { class: "notice bad" }, h("b", null, "The seat shown is the last one that could be made."), list.slice(0, 4).map((p) => says(p, true))) : null; }

  knobs() {
    const unit = this.app.sheet.unit, rows = [];
    for (const stage of this.app.sheet.stages) {
      const many = this.app.sheet.stages.some((one) => one.pad_index > 0);
      const called = many && stage.pad ? `${stage.pad}: ` : "";
      if (stage.rows && stage.rows.called === "layer") stage.rows.rows.forEach((fields) => { const f = fields.find((one) => one.keys[one.keys.length - 1] === "thickness"), m = fields.find((one) => one.keys[one.keys.length - 1] === "material"); rows.push(this.knob(f, `${called}${plain(m.value || "layer")}`, 2, 80, unit)); });
      for (const f of stage.fields) {
        const key = f.keys.filter((k) => typeof k === "string").join(".");
        const span = { "pad.closed.thickness": [20, 200], "pad.wanted_radius": [5, 120], "pad.support.rate_kpa_per_mm": [0.02, 1], "pad.pleats.count": [2, 40], "pad.pleats.filler_thickness": [2, 40], "cover.tension": [0, 400], "pad.closed.band": [20, 200] }[key];
        if (span && (f.value !== null || key === "pad.wanted_radius" && !f.more && f.type === "length")) rows.push(this.knob(f, called + f.label, span[0], span[1], unit));
        if (key === "cover.leather") rows.push(h("div", { class: "knob" }, h("label", { class: "name", for: "k-leather" }, "Leather card"), h("select", { id: "k-leather", onchange: (e) => this.app.change([{ keys: f.keys, value: e.target.value }]) }, (f.value && !f.words.includes(f.value) ? [f.value, ...f.words] : f.words).map((word) => h("option", { value: word, selected: word === (f.value ?? f.usual) }, plain(word))))));
        if (f.type === "flag" && /\.(welt)$/.test(key) && (f.value !== null)) rows.push(h("div", { class: "knob" }, h("span", { class: "name" }, `${called}${stage.side ? stage.title.replace("Down the ", "") + ": " : ""}${f.label}`), choice("k-" + f.keys.join("-"), [["yes", "Yes"], ["no", "No"]], f.value ? "yes" : "no", (word) => this.app.change([{ keys: f.keys, value: word === "yes" }]), f.label)));
      }
    }
    return rows;
  }

  knob(f, name, low, high, unit) {
    if (!f) return null;
    const isLength = f.type === "length", now = isLength ? f.mm ?? toMm(f.value, unit) : f.value;
    const step = isLength ? (unit === "in" ? 25.4 / 8 : 1) : f.type === "count" ? 1 : high <= 1 ? 0.01 : 5;
    const write = (v) => isLength ? (unit === "in" ? `${bare(v, "in")} in` : Math.round(v * 10) / 10) : Math.round(v / step) * step;
    const told = (v) => v === null || v === undefined ? "not set" : isLength ? shown(v, unit, Number.isInteger(v) || unit === "in" ? 0 : 1) : `${Math.round(v * 100) / 100} ${f.unit || ""}`;
    const value = h("b", null, told(now));
    const send = (v) => { const kept = Math.min(Math.max(v, low), high); value.textContent = told(kept); slider.value = kept; clearTimeout(this.timer); this.timer = setTimeout(() => this.app.change([{ keys: f.keys, value: write(kept) }]), 180); };
    const id = "k-" + f.keys.join("-");
    const slider = h("input", { type: "range", id, "data-at": id, min: low, max: high, step, value: now ?? low, "aria-valuetext": told(now), oninput: (e) => send(Number(e.target.value)) });
    return h("div", { class: "knob" }, h("label", { class: "name", for: id }, h("span", null, name), value), slider, h("span", { class: "steps" }, h("button", { class: "b", "aria-label": `${name}: less`, "data-at": `${id}-less`, onclick: () => send(Number(slider.value) - step) }, "\u2212"), h("button", { class: "b", "aria-label": `${name}: more`, "data-at": `${id}-more`, onclick: () => send(Number(slider.value) + step) }, "+")), f.problems.map((p) => says(p)));
  }
}

export const badge = (piece) => h("span", { class: `v ${piece.looks}`, "aria-hidden": "true" }, piece.symbol);
const percent = (value) => value === null ? "not known" : `${(100 * value).toFixed(1)} %`;
function figures(piece) {
  return h("details", null, h("summary", null, "Figures"), h("dl", null, h("dt", null, "asks"), h("dd", null, percent(piece.demand)), h("dt", null, "leather gives"), h("dd", null, percent(piece.budget)), h("dt", null, "no pattern asks less than"), h("dd", null, percent(piece.floor)), piece.extremes.map(([name, words]) => [h("dt", null, name), h("dd", null, words)])));
}
function notes(answer) {
  const told = answer.problems.filter((p) => p.warning);
  return told.length ? h("details", null, h("summary", null, `${told.length} to know`), told.map((p) => says(p, true))) : null;
}
