// Measure: one stage after another, each number where the tape finds it, told off at once where it cannot be.
import { h, put, icon, choice } from "./dom.js";
import { toMm, typed, shown } from "./lengths.js";
import { planDrawing, edgeDrawing, weighedDrawing } from "./tape.js";
import { profileEditor, weighedEditor } from "./grid.js";
import { Tapes } from "./tapes.js";

// Two readings of one length may be so far apart: 3 mm or 1 %.
const apart = (a, b) => Math.abs(a - b) > Math.max(3, 0.01 * Math.max(Math.abs(a), Math.abs(b)));

export class Measure {
  constructor(app) { this.app = app; this.stage = null; this.now = ""; this.twice = false; this.opened = new Set(); this.tapes = new Tapes(app); }

  show(root) {
    this.root = root;
    this.rail = h("nav", { class: "rail", "aria-label": "Stages of measuring" });
    this.ask = h("div", { class: "ask" });
    this.tape = h("div", { class: "tape" });
    put(root, h("div", { class: "measure" }, this.rail, this.ask, this.tape));
    this.refresh();
  }

  took() { this.refresh(); }
  // A new seat: where tapes are laid it is shown.
  answered() {
    if (this.root && this.root.isConnected && this.laying) { this.drawAsk(); this.drawTape(); }
    const told = this.ask && this.ask.querySelector("[data-at=gives]");
    if (told) told.textContent = this.gives;
  }

  // What is reckoned with for a strip of the leather, as the last answer found it.
  get gives() { const a = this.app.answer; return a && a.gives ? `Reckoned with: ${a.gives.join(" ")}` : ""; }

  get before() { return (this.stage || "").startsWith("before"); }
  get laying() { const stage = this.stages.find((one) => one.id === this.stage); return Boolean(stage && stage.rows && stage.rows.called === "tape"); }
  pointed() { if (!this.laying || !this.ask.isConnected) return; this.drawAsk(); const cap = this.tape.querySelector(".cap"); if (cap) put(cap, this.tapes.caption()); this.tapes.mark(); }

  get stages() { return this.app.sheet.stages; }

  refresh() {
    if (!this.stages.length) { this.unreadable(); return; }
    if (!this.stages.some((one) => one.id === this.stage)) this.stage = this.stages[0].id;
    this.drawRail(); this.drawAsk(); this.drawTape();
  }

  unreadable() {
    put(this.ask, h("h1", null, "This sheet cannot be read"), this.app.sheet.problems.map((p) => says(p, true)),
      h("p", null, "Mend it in an editor, or go a step back."), h("button", { class: "b", disabled: !this.app.sheet.undo, onclick: () => this.app.step("undo") }, icon("undo"), "Undo"));
    put(this.rail); put(this.tape);
  }

  drawRail() {
    const items = [];
    let pad = null, seldom = false;
    for (const stage of this.stages) {
      if (stage.pad && stage.pad !== pad) { pad = stage.pad; items.push(h("li", { class: "pad" }, stage.pad)); }
      if (!stage.pad) pad = null;
      if (stage.seldom && !seldom) { seldom = true; items.push(h("li", { class: "pad" }, "seldom needed")); }
      const wrong = faults(stage).length;
      items.push(h("li", null, h("button", { "aria-current": stage.id === this.stage ? "step" : null, onclick: () => this.go(stage.id) }, stage.title, wrong ? h("span", { class: "flag", title: "something to mend here" }, "!", h("span", { class: "unseen" }, ` ${wrong} to mend`)) : null)));
    }
    put(this.rail, h("ol", null, items));
    // On a phone the stages lie side by side: the one in hand is moved into sight.
    const list = this.rail.firstChild, now = this.rail.querySelector("[aria-current]");
    if (now && list.scrollWidth > list.clientWidth) list.scrollLeft = now.offsetLeft - list.offsetLeft - 40;
  }

  go(id) { this.stage = id; this.now = ""; this.refresh(); this.ask.scrollTop = 0; const first = this.ask.querySelector("h1"); if (first) first.focus(); }

  drawAsk() {
    const held = document.activeElement, focus = held && held.dataset ? held.dataset.at : null;
    // What is being typed while the sheet comes back from the last change goes on in the new field.
    const typing = focus && held.dataset.was !== undefined && held.value !== held.dataset.was ? held.value : null;
    const stage = this.stages.find((one) => one.id === this.stage);
    const asked = stage.fields.filter((f) => !this.idle(stage, f));
    const shownFields = asked.filter((f) => !f.more || this.opened.has(stage.id));
    const hidden = asked.filter((f) => f.more).length;
    const lengths = asked.some((f) => f.type === "length" && f.tape) && stage.pad;
    const number = this.stages.indexOf(stage), then = this.stages[number + 1];
    this.redrawing = true;
    try {
      put(this.ask,
        h("h1", { tabindex: -1 }, stage.title), h("p", { class: "why" }, stage.why),
        this.app.begun().includes(stage) ? h("div", { class: "notice begun" }, h("p", null, "These are the numbers of an example: type your own over them."), h("button", { class: "b plain", "data-at": "as-it-is", onclick: () => this.app.asItIs(stage.id) }, "They are right for mine")) : null,
        lengths ? h("button", { class: "b plain", "aria-pressed": String(this.twice), onclick: () => { this.twice = !this.twice; this.drawAsk(); } }, icon(this.twice ? "minus" : "plus"), this.twice ? "One reading each" : "Take each twice") : null,
        stage.copies ? h("p", { class: "quiet" }, "Left out, the left is as the right.") : null,
        stage.problems.map((p) => says(p)),
        shownFields.map((f) => this.field(f)),
        this.laying ? this.tapes.form() : null,
        stage.rows ? this.rows(stage) : null,
        stage.rows && stage.rows.called === "strip" ? h("p", { class: "quiet", "data-at": "gives" }, this.gives) : null,
        h("div", { class: "next" },
          hidden ? h("button", { class: "b plain", "aria-expanded": String(this.opened.has(stage.id)), onclick: () => { if (this.opened.has(stage.id)) this.opened.delete(stage.id); else this.opened.add(stage.id); this.drawAsk(); } }, icon(this.opened.has(stage.id) ? "minus" : "plus"), this.opened.has(stage.id) ? "Fewer questions" : `${hidden} more, rarely needed`) : null),
        h("div", { class: "next onward" },
          number > 0 ? h("button", { class: "b", onclick: () => this.go(this.stages[number - 1].id) }, icon("back"), "Back") : null,
          then && then.seldom === stage.seldom ? h("button", { class: "b main", "data-at": "next", onclick: () => this.go(then.id) }, `Then: ${then.title}`, icon("out"))
            : h("button", { class: "b main", "data-at": "next", onclick: () => this.app.to("see") }, "See the seat", icon("out"))));
    } finally { this.redrawing = false; }
    const again = focus ? [...this.ask.querySelectorAll("[data-at]")].find((one) => one.dataset.at === focus) : null;
    if (!again) return;
    again.focus();
    if (typing !== null) this.goOn(again, typing);
  }

  // A text put in by the page is no change to the browser: it is told when the field is left.
  goOn(input, text) {
    let told = false;
    input.value = text; input.setSelectionRange(text.length, text.length);
    // The drawing goes on with what is typed, too.
    input.dispatchEvent(new Event("input"));
    input.addEventListener("change", () => { told = true; });
    input.addEventListener("blur", () => { if (!told && !this.redrawing) input.dispatchEvent(new Event("change")); });
  }

  // Numbers of springs are not asked for where a board carries the padding, unless there are some.
  idle(stage, f) {
    if (f.keys[4] === "drop" && Array.isArray((stage.fields.find((one) => one.keys[4] === "drops") || {}).value)) return true;
    const carries = stage.fields.find((one) => one.keys.slice(2).join(".") === "support.kind");
    return Boolean(carries) && f !== carries && f.keys[2] === "support" && (carries.value ?? carries.usual) === "board" && (f.value ?? null) === null && !f.problems.length;
  }

  field(f) {
    const id = "f-" + f.keys.join("-"), unit = this.app.sheet.unit;
    const wrong = f.problems.filter((p) => !p.warning);
    const focus = () => { this.now = f.tape; this.caption = f; this.drawTape(); };
    const save = (value) => { if (JSON.stringify(value) !== JSON.stringify(f.value ?? null)) this.app.change([{ keys: f.keys, value }]); };
    let control;
    if (f.type === "points") return this.several(f);
    const label = h("label", { for: id }, f.label);
    if (f.type === "flag") {
      control = choice(id, [["yes", "Yes"], ["no", "No"]], (f.value ?? f.usual) === true ? "yes" : "no", (word) => { focus(); save(word === "yes"); }, f.label);
      return h("div", { class: "field" }, h("span", { class: "label" }, f.label), control, f.problems.map((p) => says(p)));
    }
    // A part of the seat that is there or not: its own stage asks about it once it is.
    if (f.type === "part") {
      const there = f.value !== null && f.value !== undefined, set = (word) => { focus(); if ((word === "yes") !== there) this.app.change([word === "yes" ? { keys: [...f.keys, f.begins.key], value: f.begins.value } : { keys: f.keys, value: null }]); };
      control = choice(id, [["yes", "Yes"], ["no", "No"]], there ? "yes" : "no", set, f.label);
      return h("div", { class: "field" }, h("span", { class: "label" }, f.label), control, f.problems.map((p) => says(p)));
    }
    if (f.type === "word" && f.words.length <= 3 && !f.open) {
      control = choice(id, f.words.map((word) => [word, plain(word)]), f.value ?? f.usual, (word) => { focus(); save(word); }, f.label);
      return h("div", { class: "field" }, h("span", { class: "label" }, f.label), control, f.problems.map((p) => says(p)));
    }
    if (f.type === "word") {
      const words = f.value && !f.words.includes(f.value) ? [f.value, ...f.words] : f.words;
      control = h("select", { id, "data-at": id, onfocus: focus, onchange: (event) => save(event.target.value || null) },
        f.value === null && f.usual === null ? h("option", { value: "" }, "not said") : null,
        words.map((word) => h("option", { value: word, selected: word === (f.value ?? f.usual) }, plain(word) + (f.value === null && word === f.usual ? " (usual)" : ""))));
    } else {
      const usual = f.usual === null || f.usual === "" || f.usual === 0 && f.more ? "" : f.type === "length" && f.usual !== 0 ? `usual: ${shown(f.usual, unit)}` : f.type === "length" ? "" : `usual: ${f.usual}`;
      const was = f.value === null || f.value === undefined ? "" : f.type === "place" ? f.value.join(", ") : String(f.value);
      const input = h("input", { id, "data-at": id, "data-was": was, class: f.type === "text" ? "words" : "", value: was, placeholder: usual, autocomplete: "off", spellcheck: "false",
        inputmode: f.type === "text" || f.type === "place" || unit === "in" ? "text" : "decimal", "aria-invalid": wrong.length ? "true" : null, "aria-describedby": `${id}-say`, onfocus: (event) => { event.target.select(); focus(); },
        oninput: (event) => { const mm = toMm(event.target.value, unit); f.mm = f.type === "length" ? mm : f.mm; if (f.type === "count") f.typed = Number(event.target.value) || null; this.drawTape(); },
        onchange: (event) => this.redrawing || save(f.type === "text" ? event.target.value || null : f.type === "place" ? placed(event.target.value) : typed(event.target.value)),
        onkeydown: (event) => { if (event.key === "Enter") { event.preventDefault(); this.onward(event.target); } } });
      const said = f.type === "place" ? "x, y" : f.type === "length" ? (typeof f.value === "string" && /[a-z"]/i.test(f.value) ? "" : unit) : f.unit || "";
      control = h("div", { class: "in" }, input, said ? h("span", { class: "unit" }, said) : null);
    }
    const again = (this.twice || this.readings(f)) && f.type === "length" && f.tape && f.mm !== null && f.mm !== undefined ? this.second(f, unit, save) : null;
    return h("div", { class: `field${wrong.length ? " wrong" : ""}` }, label, control, again, h("div", { id: `${id}-say` }, f.problems.map((p) => says(p))));
  }

  // Drops in three places of a side, instead of one in its middle.
  several(f) {
    const unit = this.app.sheet.unit, base = f.keys.slice(0, -1), one = [...base, "drop"], side = f.keys[3], stage = this.stages.find((own) => own.id === this.stage), values = this.values(stage);
    if (!Array.isArray(f.value)) {
      const across = side === "front" || side === "rear" || side === "bottom" || side === "top", long = across ? values["outline.front_width"] ?? values["outline.width"] ?? 400 : values["outline.depth"] ?? 400, drop = values[`sides.${side}.drop`] ?? 100;
      const write = (mm) => unit === "in" ? `${Math.round(mm)} mm` : Math.round(mm), shares = across ? [-0.35, 0, 0.35] : [0.15, 0.5, 0.85];
      return h("div", { class: "field" }, h("span", { class: "label" }, f.label), h("button", { class: "b", "data-at": `three-${side}`, onclick: () => this.app.change([{ keys: one, value: null }, { keys: f.keys, value: shares.map((share) => [write(share * long), write(drop)]) }]) }, "Measure it in three places"), f.problems.map((p) => says(p)));
    }
    const mean = f.value.map((pair) => toMm(pair[1], unit) ?? 0).reduce((sum, v) => sum + v, 0) / f.value.length;
    return h("div", { class: "field" }, h("span", { class: "label" }, f.label), profileEditor(f, unit, (value) => this.app.change([{ keys: f.keys, value }]), "drop"), h("button", { class: "b plain", onclick: () => this.app.change([{ keys: f.keys, value: null }, { keys: one, value: unit === "in" ? `${Math.round(mean)} mm` : Math.round(mean) }]) }, "One drop for the side again"), f.problems.map((p) => says(p)));
  }

  // The two readings that the number in the sheet comes from; none once it was typed anew.
  readings(f) {
    const kept = (this.app.sheet.readings || {})[f.keys.join(".")], both = kept && Array.isArray(kept.mm) ? kept.mm : null;
    if (!both || f.mm === null || f.mm === undefined) return null;
    const from = apart(both[0], both[1]) ? both : [(both[0] + both[1]) / 2];
    return from.some((mm) => Math.abs(mm - f.mm) < 0.06) ? both : null;
  }

  // Both readings of a length: near enough, the middle is taken; else both are kept, and it is asked for again.
  second(f, unit, save) {
    const key = f.keys.join("."), both = this.readings(f), far = both && apart(both[0], both[1]);
    const told = h("span", { class: both ? far ? "small say" : "small quiet" : "small" }, both ? far ? `read ${shown(both[0], unit, 1)} and ${shown(both[1], unit, 1)}, ${shown(Math.abs(both[0] - both[1]), unit, 1)} apart: measure again` : `read ${shown(both[0], unit, 1)} and ${shown(both[1], unit, 1)}; the middle is taken` : "");
    const input = h("input", { "aria-label": `${f.label}: ${both ? "one more" : "second"} reading`, "data-at": `again-${key}`, inputmode: unit === "in" ? "text" : "decimal", onchange: async (event) => {
      const b = toMm(event.target.value, unit), a = f.mm;
      if (b === null || a === null) { told.textContent = "no length"; return; }
      // Of three readings the two that lie nearer to each other count.
      const pair = far ? [[a, b], [both[0], b], [both[1], b]].sort((p, q) => Math.abs(p[0] - p[1]) - Math.abs(q[0] - q[1]))[0] : [a, b];
      await this.app.reading(f.keys, pair);
      if (!apart(pair[0], pair[1])) { const middle = (pair[0] + pair[1]) / 2; save(unit === "in" ? `${(middle / 25.4).toFixed(3)} in` : Math.round(middle * 10) / 10); }
    } });
    return h("div", { class: "twice" }, h("span", { class: "small quiet" }, both ? "once more:" : "again:"), h("div", { class: "in" }, input), told);
  }

  onward(from) {
    const all = [...this.ask.querySelectorAll("input:not([type=radio]), select, [data-at=next]")];
    const next = all[all.indexOf(from) + 1];
    from.dispatchEvent(new Event("change"));
    if (next) next.focus();
  }

  rows(stage) {
    const r = stage.rows;
    const items = r.rows.map((fields, k) => {
      const points = fields.find((f) => f.type === "points" || f.type === "weighed");
      const editor = points && points.type === "weighed" ? weighedEditor : profileEditor;
      const called = r.names ? plain(r.names.of_rows[k]) : `${r.called} ${k + 1}`;
      const key = `${stage.id}-${k}`, keys = fields[0].keys.slice(0, r.keys.length + 1);
      const seen = fields.filter((f) => f !== points && (!f.more || this.opened.has(key))), hidden = fields.filter((f) => f.more).length;
      return h("div", { class: "row", onfocusin: () => { this.layer = k; } },
        h("header", { class: "rowhead" }, h("h3", null, called), h("button", { class: "b plain", "aria-label": `take ${called} out`, onclick: () => this.app.change([{ keys, value: null }]) }, icon("away"))),
        seen.map((f) => this.field(f)),
        hidden ? h("button", { class: "b plain small", onclick: () => { if (this.opened.has(key)) this.opened.delete(key); else this.opened.add(key); this.drawAsk(); } }, icon(this.opened.has(key) ? "minus" : "plus"), this.opened.has(key) ? "Fewer" : "More about it") : null,
        points ? h("div", { class: "field" }, editor(points, this.app.sheet.unit, (value) => this.app.change([{ keys: points.keys, value }])), points.problems.map((p) => says(p))) : null);
    });
    return h("div", null, items, r.names ? this.namedRow(stage) : h("button", { class: "b", onclick: () => this.app.row(r.keys, r.new) }, icon("plus"), `Add a ${r.called}`));
  }

  // A row that stands under a name: it is asked for first, and written without blanks.
  namedRow(stage) {
    const r = stage.rows, told = h("div", null), id = `name-${stage.id}`;
    const input = h("input", { id, "data-at": id, class: "words", maxlength: 40, autocomplete: "off", spellcheck: "false" });
    const add = () => {
      const name = input.value.trim().toLowerCase().replace(/[^a-z0-9_-]+/g, "_").replace(/^_+|_+$/g, ""), say = (text) => { put(told, says({ text, code: "" })); input.focus(); };
      if (!name) { say("Write what it is called in the shop, in letters and figures."); return; }
      if (r.names.taken.includes(name)) { say("There is one of this name already; give another."); return; }
      this.app.change(Object.entries(r.new).map(([key, value]) => ({ keys: [...r.keys, name, key], value })));
    };
    return h("div", { class: "row" }, h("form", { onsubmit: (event) => { event.preventDefault(); add(); } }, h("div", { class: "field" }, h("label", { for: id }, `Another ${r.called}: what the shop calls it`), h("div", { class: "in" }, input), told), h("button", { class: "b", type: "submit", "data-at": `add-${stage.id}` }, icon("plus"), `Add this ${r.called}`)));
  }

  values(stage) {
    const found = {};
    for (const one of this.stages) if (one.pad_index === stage.pad_index || one.pad_index === null) {
      for (const f of one.fields) {
        const keys = one.pad_index === null ? f.keys : f.keys.slice(2);
        const value = f.type === "length" ? f.mm : f.typed ?? f.value ?? (f.type === "flag" || f.type === "word" ? f.usual : null);
        if (value !== null && value !== undefined) found[keys.join(".")] = value;
        else if (["closed", "board"].includes(keys[0])) found[`${keys[0]}.`] = true;
      }
    }
    return found;
  }

  drawTape() {
    const stage = this.stages.find((one) => one.id === this.stage);
    if (this.laying) { if (!this.tape.querySelector("canvas") || this.app.see.seat3.seat !== this.app.seat) this.tapes.drawing(this.tape); return; }
    if (stage.drawing === "strip" || stage.drawing === "block") { this.drawWeighed(stage); return; }
    const about = stage.pad_index === null ? this.stages.find((one) => one.pad_index === 0) || stage : stage;
    const values = this.values(about), unit = this.app.sheet.unit;
    const padding = this.stages.find((one) => one.id === `padding-${about.pad_index}`);
    const layers = (padding && padding.rows ? padding.rows.rows : []).map((fields) => ({ mm: (fields.find((f) => f.keys[f.keys.length - 1] === "thickness") || {}).mm }));
    layers.now = this.layer ?? 0;
    const plan = stage.drawing === "plan" || stage.drawing === "piece" || stage.drawing === "grid";
    const drawing = plan ? planDrawing(values, this.now, unit, about.kind) : edgeDrawing(values, this.now, unit, stage.side, layers);
    const f = this.caption && this.now === this.caption.tape ? this.caption : null;
    put(this.tape, drawing, h("div", { class: "cap" }, f ? [h("b", null, f.label), " ", f.help] : "Touch a number: the drawing shows where its tape goes."));
  }

  // A strip or a block with its weight, and where it is read.
  drawWeighed(stage) {
    const fields = stage.rows.rows[Math.min(this.layer ?? 0, stage.rows.rows.length - 1)] || [], mm = (key) => (fields.find((f) => f.keys[f.keys.length - 1] === key) || {}).mm ?? null;
    put(this.tape, weighedDrawing(stage.drawing, { across: mm("width") ?? mm("side"), read: mm("marks") ?? mm("height") }, this.app.sheet.unit), h("div", { class: "cap" }, stage.drawing === "strip" ? "Read between the two marks, first without a weight." : "Read the height between the boards, first without a weight."));
  }
}

// A place is typed as x, y.
const placed = (text) => { const found = text.split(",").map(typed); return found.every((one) => one === null) ? null : found; };
const faults = (stage) => [...stage.problems, ...stage.fields.flatMap((f) => f.problems), ...(stage.rows ? stage.rows.rows.flat().flatMap((f) => f.problems) : [])].filter((p) => !p.warning);
// Sizes of paper are written as on the box: A4, not a4.
export const plain = (word) => { const text = String(word).replace(/_/g, " "); return /^a\d$/.test(text) ? text.toUpperCase() : text; };
export function says(problem, place) {
  return h("p", { class: `say${problem.warning ? " doubt" : ""}` }, h("span", null, place && problem.where ? `${problem.where}: ` : "", problem.text, " ", h("code", null, problem.code)));
}
