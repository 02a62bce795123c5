// Variants kept beside each other and compared, and darts and seams that would help: drawn, and made with a tap.
import { h, put, icon } from "./dom.js";
import { at, get, post } from "./api.js";
import { says } from "./measure.js";

export class Variants {
  constructor(app) { this.app = app; this.forget(); }

  forget() { this.kept = null; this.table = null; this.busy = false; this.of = null; }

  // A part of the side of Decide; it draws itself anew.
  part() { this.box = h("section", { class: "variants" }); if (this.kept === null || this.of !== this.app.sheet.sheet) this.load(); this.draw(); return this.box; }

  async load() {
    this.of = this.app.sheet.sheet;
    try { this.kept = (await get(at(this.app.sheet.sheet, "variants"))).variants; } catch (fault) { this.kept = []; this.app.told(fault); }
    this.draw();
  }

  draw() {
    if (!this.box) return;
    const kept = this.kept || [], free = () => { let k = 1; while (kept.some((one) => one.name === `variant ${k}`)) k += 1; return `variant ${k}`; };
    const name = h("input", { id: "variant-name", "data-at": "variant-name", class: "words", maxlength: 60, autocomplete: "off", value: free() });
    put(this.box, h("h3", null, "Variants"), h("p", { class: "small quiet" }, "Keep the seat as it is now, turn the numbers, and compare."),
      h("form", { class: "keepit", onsubmit: (event) => { event.preventDefault(); this.set(name.value, true); } }, h("div", { class: "field" }, h("label", { for: "variant-name" }, "Called"), h("div", { class: "in" }, name)), h("button", { class: "b", type: "submit", "data-at": "variant-keep" }, icon("plus"), "Keep it beside")),
      kept.length ? h("ul", { class: "rows" }, kept.map((one) => h("li", null, h("span", null, h("b", null, one.name), one.mark === this.app.sheet.mark ? ", as it is now" : ""), h("span", null, h("button", { class: "b plain", disabled: one.mark === this.app.sheet.mark, "aria-label": `Go on with it: ${one.name}`, onclick: () => this.back(one) }, "Go on with it"), h("button", { class: "b plain", "aria-label": `let ${one.name} go`, onclick: () => this.set(one.name, false) }, icon("away")))))) : null,
      kept.length ? h("button", { class: "b", "data-at": "variant-compare", disabled: this.busy, onclick: () => this.compare() }, this.busy ? "Being compared" : "Compare") : null, this.table ? this.tableOf(this.table) : null);
  }

  async set(name, keep) { try { this.kept = (await post(at(this.app.sheet.sheet, "variants"), { name, keep })).variants; if (!keep) this.table = null; } catch (fault) { this.app.told(fault); } this.draw(); }

  async back(one) { await this.app.send((base) => post(at(this.app.sheet.sheet, "keep"), { base, mark: one.mark, changes: [] }), []); this.app.announce(`${one.name} is on the bench. Undo brings the other back.`); this.draw(); }

  async compare() {
    this.busy = true; this.draw();
    try { await this.app.settled(); this.table = await post(at(this.app.sheet.sheet, "compare"), {}); } catch (fault) { this.app.told(fault); }
    this.busy = false; this.draw();
  }

  tableOf(found) {
    return [found.refused.map((one) => h("div", null, h("b", { class: "small" }, `${one.name}: `), one.problems.slice(0, 2).map((p) => says(p)))),
      found.rows.length ? h("div", { class: "wide", tabindex: 0, role: "region", "aria-label": "Variants beside each other" }, h("table", { class: "order" }, h("caption", { class: "small quiet" }, "What is not the same in all; bold differs from now"), h("thead", null, h("tr", null, h("td", null), found.names.map((name) => h("th", { scope: "col" }, name)))), h("tbody", null, found.rows.map((row) => h("tr", null, h("th", { scope: "row" }, row.name), row.cells.map((cell, k) => h("td", null, row.differs[k] ? h("b", null, cell) : cell))))))) : h("p", { class: "small" }, "No figure differs.")];
  }
}

export class Reliefs {
  constructor(app) { this.app = app; this.forget(); }

  forget() { this.found = null; this.panel = null; this.mark = null; this.busy = false; this.lit = null; }

  part(piece) {
    const panel = piece.panels[0], known = this.found && this.panel === panel && this.mark === this.app.answer.mark;
    if (!piece.tight && !known) return null;
    const share = (value) => `${(100 * value).toFixed(1)} %`;
    return h("section", { class: "reliefs" }, h("h3", null, "A dart or a seam"),
      known ? null : h("button", { class: "b", "data-at": "relief-look", disabled: this.busy || this.app.answer.level !== "final", onclick: () => this.look(panel) }, this.busy ? "Being looked for" : "Where would one help?"),
      known && !this.found.proposals.length ? h("p", { class: "small" }, "No dart and no seam takes enough away to be worth the sewing: a softer leather or a flatter form helps.") : null,
      known && this.found.drawing ? h("img", { class: "plan", alt: "The piece with the proposals, numbered", src: URL.createObjectURL(new Blob([this.found.drawing], { type: "image/svg+xml" })), onload: (e) => URL.revokeObjectURL(e.target.src) }) : null,
      known ? h("ul", { class: "rows" }, this.found.proposals.map((one) => h("li", { class: one.number === this.lit ? "now" : "" }, h("button", { class: "b plain line", "aria-pressed": String(one.number === this.lit), onclick: () => this.show(one) }, `${one.number}  ${one.words}, ${one.place}: ${share(one.before)} to ${share(one.after)}${one.verdict ? `, ${one.verdict}` : ""}`), h("button", { class: "b", "data-at": `relief-${one.number}`, onclick: () => this.apply(one) }, "Make it")))) : null,
      known ? h("p", { class: "small quiet" }, "Tap a proposal: it is drawn on the seat. Made, the piece is cut there and its seams are new; undo takes it back.") : null);
  }

  async look(panel) {
    this.busy = true; this.app.see.sidebar();
    try { await this.app.settled(); const mark = this.app.answer.mark; this.found = await post(at(this.app.sheet.sheet, "relief"), { panel }); this.panel = panel; this.mark = mark; this.lit = null; if (this.found.proposals.length) this.show(this.found.proposals[0]); } catch (fault) { this.app.told(fault); }
    this.busy = false; this.app.see.sidebar();
  }

  show(one) { this.lit = one.number; const three = this.app.see.seat3; if (three) three.marks([], ...one.lines); this.app.see.sidebar(); }

  async apply(one) { const row = { panel: this.found.panel, apply: one.number }; this.forget(); const three = this.app.see.seat3; if (three) three.marks(null); this.app.see.panel = null; await this.app.row(["relief"], row); }
}
