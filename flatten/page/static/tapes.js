// A tape laid over the seat: two places tapped on it, what the tape read typed beside, tried before it is kept.
import { h, put, choice } from "./dom.js";
import { at, post } from "./api.js";
import { shown, typed } from "./lengths.js";
import { says } from "./measure.js";

export class Tapes {
  constructor(app) { this.app = app; this.forget(); this.over = "padding"; }

  forget() { this.pad = null; this.from = null; this.to = null; this.round = false; this.below = "0"; this.ends = "edges"; this.follows = false; this.length = ""; this.line = []; this.result = null; this.told = []; this.busy = false; }

  get pads() { const all = this.app.answer && this.app.answer.places || {}; return Object.keys(all).filter((name) => all[name].length); }
  get places() { const name = this.pads.includes(this.pad) ? this.pad : this.pads[0]; return name ? this.app.answer.places[name] : []; }
  get padName() { return this.pads.includes(this.pad) ? this.pad : this.pads[0]; }

  // The seat to tap on.
  drawing(into) {
    const { seat } = this.app, three = seat ? this.app.see.three() : null;
    const stand = h("div", { class: "stand" });
    put(into, stand, h("div", { class: "cap" }, this.caption()));
    if (!this.pads.length) { put(stand, h("p", { class: "quiet pad" }, seat ? "Nothing here can be taped." : "The seat appears here when it is computed. Then tap the two places the tape lay between.")); return; }
    if (!three) { put(stand, h("p", { class: "quiet pad" }, "This browser cannot draw the seat; pick both places by name.")); return; }
    three.onpick = (panel, where) => this.tap(where);
    three.put(stand); three.show(this.app.measure.before && this.app.seat.pads.some((pad) => pad.rests) ? "panels" : "padded"); if (three.seat !== seat) three.set(seat);
    three.showCut(null); three.home();
    this.mark(three);
  }

  caption() { return this.from === null ? "Tap the place where the tape began, then the one where it ended: the nearest named place is taken." : [h("b", null, this.places[this.from] ? this.places[this.from].name : ""), " to ", h("b", null, this.to === null ? "\u2026" : this.places[this.to].name)]; }

  mark(three = this.app.see.seat3) {
    if (!three || !three.canvas.isConnected) return;
    three.marks(this.round ? [] : this.places.map((one, k) => ({ at: one.point, now: k === this.from || k === this.to })), this.line);
  }

  tap(where) {
    const three = this.app.see.seat3, all = this.pads.flatMap((pad) => this.app.answer.places[pad].map((one, k) => ({ pad, k, at: one.point })));
    const found = three.nearestOf(all.map((one) => one.at), where);
    if (found === null) return;
    const { pad, k } = all[found];
    if (pad !== this.padName) { this.pad = pad; this.from = k; this.to = null; } else if (this.from === null || this.to !== null) { this.from = k; this.to = null; } else if (k !== this.from) this.to = k;
    this.round = false;
    this.app.announce(this.places[k].name);
    this.changed();
  }

  // Both places are known: the tape's line is drawn before anything is typed.
  changed() { this.line = []; this.result = null; this.told = []; this.app.measure.pointed(); if (this.round || (this.from !== null && this.to !== null)) this.lay(); }

  row(length) {
    const inch = this.app.sheet.unit === "in", mm = (v) => inch ? `${v} mm` : v, a = this.places[this.from], b = this.places[this.to];
    const row = { pad: this.padName, over: this.app.measure.before ? "cover" : this.overs.some(([word]) => word === this.over) ? this.over : "padding", length };
    if (this.follows) row.follows = true;
    if (this.round) return { ...row, way: "round", ...(typed(this.below) ? { below: typed(this.below) } : {}) };
    for (const way of ["along", "across"]) if (a[way] !== undefined && a[way] === b[way] && a.end !== b.end) return { ...row, way, at: mm(a[way]), ends: this.endings.some(([word]) => word === this.ends) ? this.ends : "edges" };
    return { ...row, way: "between", start: a.at.map(mm), end: b.at.map(mm) };
  }

  // A pad without a frame has a core or a board, and no tack lines; a tape can go right round most of them.
  get loose() { return this.places.length > 0 && this.places[0].girth !== undefined; }
  get overs() { return this.loose ? [["padding", "the padding"], ["support", "the bare core or board"], ["cover", "the cover"]] : [["padding", "the padding"], ["support", "the bare seat"]]; }
  get endings() { return this.loose ? [["edges", "at the edges"], ...(this.places[0].girth ? [["girth", "right round"]] : [])] : [["edges", "at the edges"], ["tack lines", "at the tack lines"]]; }

  get straight() { const a = this.places[this.from], b = this.places[this.to]; return Boolean(a && b) && ["along", "across"].some((way) => a[way] !== undefined && a[way] === b[way] && a.end !== b.end); }

  // Without a reading the line is drawn alone; what is computed is told once the tape was read, so that it leads nobody.
  async lay() {
    const value = typed(this.length);
    this.busy = true; this.told = [];
    try {
      await this.app.settled();
      const found = await post(at(this.app.sheet.sheet, "tapes"), { row: this.row(value ?? "1000 mm") }), last = found.tapes[found.tapes.length - 1];
      if (found.refused.length || last.problems.length) this.told = found.refused.length ? found.refused : last.problems; else { this.line = last.line; this.result = value === null ? null : last; if (this.result) this.app.announce(this.verdict(this.result)); }
    } catch (fault) { this.told = fault.problems && fault.problems.length ? fault.problems : [{ code: "", text: fault.message }]; }
    this.busy = false; this.app.measure.pointed();
  }

  verdict(one) {
    const unit = this.app.sheet.unit, off = shown(Math.abs(one.off_mm), unit, 1);
    if (one.length_mm === null) return "Nothing is computed there: the tape's plane misses the cover.";
    return one.differs ? `${shown(one.length_mm, unit, 1)} are computed there: the tape read ${off} ${one.off_mm > 0 ? "more" : "less"}. A tape is off by ${shown(one.error_mm, unit, 1)} at most: lay it once more.` : `It agrees: ${shown(one.length_mm, unit, 1)} are computed there.`;
  }

  async keep() {
    const row = this.row(typed(this.length));
    this.forgetTape();
    await this.app.row(["control"], row);
    this.app.announce("Kept. Undo takes it out again.");
  }
  forgetTape() { this.from = this.to = null; this.round = false; this.length = ""; this.line = []; this.result = null; this.told = []; }

  form() {
    if (!this.pads.length) return null;
    const unit = this.app.sheet.unit, names = this.places.map((one, k) => [k, one.name]), set = (key) => (word) => { this[key] = word; this.changed(); };
    const select = (name, label, options, chosen, onpick) => h("div", { class: "field" }, h("label", { for: name }, label), h("select", { id: name, "data-at": name, onchange: (e) => onpick(e.target.value) }, options.map(([value, text]) => h("option", { value, selected: String(value) === String(chosen) }, text))));
    const number = (word) => word === "" ? null : Number(word), ready = this.round || (this.from !== null && this.to !== null);
    return h("form", { class: "row pointing", onsubmit: (event) => { event.preventDefault(); if (ready && typed(this.length) !== null) this.lay(); } },
      h("h3", null, "One more tape"), h("p", { class: "small quiet" }, "Tap both places on the seat, or pick them here."),
      this.pads.length > 1 ? select("tape-pad", "Over which pad", this.pads.map((one) => [one, one]), this.padName, (word) => { this.pad = word; this.forgetTape(); this.changed(); }) : null,
      h("div", { class: "field" }, h("span", { class: "label" }, "The tape lies"), choice("tape-way", [["two", "from place to place"], ["round", "all round"]], this.round ? "round" : "two", (word) => { this.round = word === "round"; this.changed(); }, "The tape lies")),
      this.round ? h("div", { class: "field" }, h("label", { for: "tape-below" }, "Below the edge by"), h("div", { class: "in" }, h("input", { id: "tape-below", "data-at": "tape-below", value: this.below, onchange: (e) => { this.below = e.target.value; this.changed(); } }), h("span", { class: "unit" }, unit)))
        : [select("tape-from", "From", [["", "not pointed at yet"], ...names], this.from ?? "", (word) => { this.from = number(word); if (this.to === this.from) this.to = null; this.changed(); }), select("tape-to", "To", [["", "not pointed at yet"], ...names], this.to ?? "", (word) => { this.to = number(word); if (this.to === this.from) this.from = null; this.changed(); })],
      this.app.measure.before ? null : select("tape-over", "Over what", this.overs, this.over, set("over")),
      this.straight ? h("div", { class: "field" }, h("span", { class: "label" }, "Ends"), choice("tape-ends", this.endings, this.ends, set("ends"), "Where it ends")) : null,
      h("div", { class: "field" }, h("span", { class: "label" }, "Pulled"), choice("tape-follows", [["taut", "taut"], ["pressed", "pressed into hollows"]], this.follows ? "pressed" : "taut", (word) => { this.follows = word === "pressed"; this.changed(); }, "How it was pulled")),
      h("div", { class: "field" }, h("label", { for: "tape-length" }, "It read"), h("div", { class: "in" }, h("input", { id: "tape-length", "data-at": "tape-length", autocomplete: "off", inputmode: unit === "in" ? "text" : "decimal", value: this.length, oninput: (e) => { this.length = e.target.value; }, onchange: () => { this.result = null; if (ready && typed(this.length) !== null) this.lay(); } }), h("span", { class: "unit" }, unit))),
      this.told.map((p) => says(p)),
      this.result ? h("p", { class: this.result.differs ? "say doubt" : "agrees", role: "status" }, h("span", null, this.verdict(this.result))) : null,
      h("div", { class: "next" }, this.result ? h("button", { class: "b main", type: "button", "data-at": "tape-keep", onclick: () => this.keep() }, this.result.differs ? "Keep it as read" : "Keep this tape") : h("button", { class: "b", type: "submit", "data-at": "tape-try", disabled: !ready || this.busy }, "Try it")));
  }
}
