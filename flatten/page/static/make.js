// Make: all pieces on one table, and the papers to print.
import { h, put, icon, choice } from "./dom.js";
import { at, blob, get, post } from "./api.js";
import { tableDrawing } from "./pieces.js";
import { says } from "./measure.js";

const WORDS = {
  "patterns.pdf": "Patterns, pages to print", "patterns-roll.pdf": "Patterns, one long sheet", "patterns.svg": "Patterns as a drawing", "patterns.dxf": "Patterns for a cutter",
  "padding.pdf": "Padding, pages to print", "padding-roll.pdf": "Padding, one long sheet", "padding.svg": "Padding as a drawing", "padding.dxf": "Padding for a cutter",
  "job-sheet.pdf": "Job sheet, steps to tick", "report.html": "Report", "cutlist.csv": "Cut list", "report.json": "Figures for programs", "seat.glb": "The seat as a model",
};
const FIRST = ["patterns.pdf", "padding.pdf", "job-sheet.pdf", "report.html", "cutlist.csv", "patterns-roll.pdf", "padding-roll.pdf"];

export class Make {
  constructor(app) { this.app = app; this.pictures = true; this.both = false; this.page = null; this.done = []; this.going = null; this.papers = []; this.of = null; this.laid = null; this.laying = false; this.view = "pieces"; }

  show(root) {
    this.table = h("div", { class: "table" });
    this.side = h("div", { class: "side" });
    put(root, h("div", { class: "make" }, this.table, this.side));
    this.refresh(); this.load();
  }

  took() { this.sidebar(); if (this.papers.length) this.load(); }

  async load() { try { const found = await get(at(this.app.sheet.sheet, "papers")); this.told(found); this.sidebar(); } catch (fault) { this.app.told(fault); } }

  told(found) { this.papers = found.papers; this.folder = found.folder; this.older = found.older; if (this.app.part === "make") this.app.foot(); }

  refresh() {
    if (!this.table || !this.table.isConnected) return;
    const { answer } = this.app;
    if (this.laid && (!answer || this.laid.revision !== answer.revision)) { this.laid = null; this.view = "pieces"; }
    const plan = this.laid && this.laid.plans[this.view];
    const views = this.laid && this.laid.plans.length ? choice("view", [["pieces", "Pieces"], ...this.laid.plans.map((one, k) => [String(k), one.name])], String(this.view), (word) => { this.view = word; this.refresh(); }, "What is shown") : null;
    // A picture of its own keeps whatever a name holds from being read as markup of the page.
    if (plan) put(this.table, views, h("img", { class: "plan", alt: `Plan of ${plan.name}`, src: URL.createObjectURL(new Blob([plan.plan], { type: "image/svg+xml" })), onload: (e) => URL.revokeObjectURL(e.target.src) }));
    else if (answer) put(this.table, views, tableDrawing([...answer.pieces, ...answer.others], 1500, (piece) => { const panel = piece.panels[0]; if (panel && answer.pieces.includes(piece)) this.app.toPanel(panel); }));
    else put(this.table, h("p", { class: "quiet" }, "The pieces appear here when the seat is computed."));
    this.sidebar();
  }

  sheetPage() { for (const stage of this.app.sheet.stages) for (const f of stage.fields) if (f.keys.join(".") === "output.page") return f.value ?? f.usual; return "a4"; }

  sidebar() {
    const usable = this.app.sheet.usable;
    const rest = this.papers.filter((one) => !FIRST.includes(one.paper)), first = FIRST.map((name) => this.papers.find((one) => one.paper === name)).filter(Boolean);
    put(this.side,
      h("section", null, h("h2", null, "Papers"), h("p", { class: "small quiet" }, "At true size, with allowances and marks. Print at 100 %, never fitted to the page; check the 100 mm ruler on the first page."),
        h("p", null, h("span", { class: "label" }, "Pages")), choice("page", [["a4", "A4"], ["letter", "Letter"], ["a3", "A3"]], this.page ?? this.sheetPage(), (word) => { this.page = word; }, "Pages"),
        h("p", null, h("label", { class: "tick" }, h("input", { type: "checkbox", checked: this.pictures, onchange: (e) => { this.pictures = e.target.checked; } }), " Pictures of the seat in the report")),
        h("p", null, h("label", { class: "tick" }, h("input", { type: "checkbox", checked: this.both, onchange: (e) => { this.both = e.target.checked; } }), " Draw mirrored pieces too")),
        this.app.begun().length ? h("div", { class: "notice begun" }, `Still the numbers of an example: ${this.app.begun().map((one) => one.title).join(", ")}. Measure these first, else you cut to the example.`) : null,
        this.going ? h("button", { class: "b", onclick: () => post("/api/stop").catch((fault) => this.app.told(fault)) }, "Stop") : h("button", { class: "b main", disabled: !usable, onclick: () => this.make() }, icon("down"), this.papers.length ? "Make them again" : "Make the papers"),
        usable ? null : this.app.sheet.problems.filter((p) => !p.warning).slice(0, 4).map((p) => says(p, true)),
        this.going ? h("ul", { class: "stages", "aria-live": "polite" }, this.done.map((what) => h("li", null, what)), h("li", { class: "now" }, this.going)) : null),
      this.papers.length ? h("section", null, h("h3", null, `In the folder \u201c${this.folder}\u201d`), this.older ? h("div", { class: "notice bad older" }, "The sheet was changed after these were made: make them again before you print.") : h("p", { class: "small quiet" }, "The eye opens a paper, to look at or to print; the arrow saves it."), this.list(first), rest.length ? h("details", null, h("summary", null, `${rest.length} more`), this.list(rest)) : null) : null,
      this.leather(usable),
      h("section", null, h("h2", null, "Hand over"), h("p", { class: "small quiet" }, "One file with the seat to turn, its pieces and figures. It opens without this program and without a network."), h("button", { class: "b", disabled: !usable || this.handing, onclick: () => this.hand() }, icon("out"), this.handing ? "Being made" : "One file to hand over")),
      this.app.answer ? h("section", null, h("h3", null, "Mind, before you cut"), h("ul", { class: "cautions" }, this.app.answer.cautions.map((one) => h("li", null, one)))) : null);
  }

  // The pieces on the hides, how much of them that takes, and what to order.
  leather(usable) {
    const { answer } = this.app, final = answer && answer.level === "final", told = this.laid;
    const number = (value) => (Math.round(value * 100) / 100).toString();
    return h("section", null, h("h2", null, "Leather and order list"),
      h("p", { class: "small quiet" }, answer && answer.lays ? "The pieces on the sheet's hides and rolls, round their flaws, as the papers have them." : "What to order. Give the sheet hides to see what is cut from where."),
      h("button", { class: "b", disabled: !usable || !final || this.laying, onclick: () => this.lay() }, this.laying ? "Being laid" : answer && answer.lays ? "Lay the pieces out" : "Show the order list"),
      h("button", { class: "b plain", onclick: () => this.app.to("hides") }, "To the hides"),
      told && told.words.length ? h("ul", { class: "small" }, told.words.map((one) => h("li", null, one))) : null,
      told ? h("table", { class: "order" }, h("caption", null, "Order list"), h("thead", null, h("tr", null, ["item", "for", "quantity"].map((one) => h("th", { scope: "col" }, one)))),
        h("tbody", null, told.order.map((row) => h("tr", { title: row.source }, h("td", null, row.item), h("td", null, row.for), h("td", null, `${number(row.quantity)} ${row.unit}`))))) : null);
  }

  async lay() {
    this.laying = true; this.sidebar();
    try { await this.app.settled(); this.laid = await post(at(this.app.sheet.sheet, "hides"), {}); this.view = this.laid.plans.length ? "0" : "pieces"; } catch (fault) { this.app.told(fault); }
    this.laying = false; this.refresh();
  }

  list(papers) {
    return h("ul", { class: "papers" }, papers.map((one) => h("li", null, h("span", null, h("b", null, WORDS[one.paper] || one.paper.replace(/\.png$/, "").replace(/-/g, " ")), h("br"), h("span", { class: "small quiet" }, `${one.paper}, ${Math.max(1, Math.round(one.bytes / 1024))} kB`)),
      /\.(pdf|html|png|svg)$/.test(one.paper) ? h("button", { class: "b", "aria-label": `open ${one.paper}`, onclick: () => this.fetch(one.paper, true) }, icon("eye")) : h("span"),
      h("button", { class: "b", "aria-label": `save ${one.paper}`, onclick: () => this.fetch(one.paper, false) }, icon("down")))));
  }

  async fetch(paper, open) {
    const tab = open ? window.open("", "_blank") : null;
    try {
      const data = await blob(at(this.app.sheet.sheet, "papers", encodeURIComponent(paper)));
      if (tab) tab.location = URL.createObjectURL(data); else this.app.save(data, paper);
    } catch (fault) { if (tab) tab.close(); this.app.told(fault); }
  }

  async make() {
    this.done = []; this.going = "beginning"; this.sidebar();
    try {
      await this.app.settled();
      const found = await post(at(this.app.sheet.sheet, "papers"), { page: this.page, pictures: this.pictures, both: this.both });
      this.told(found); this.app.announce("The papers are made.");
    } catch (fault) { this.app.told(fault); }
    this.going = null; this.sidebar();
  }

  news(row) {
    if (!this.going || row.state !== "running" || !row.doing) return;
    if (row.doing !== this.going) { if (this.going !== "beginning") this.done.push(this.going); this.going = row.doing; this.sidebar(); }
  }

  async hand() {
    this.handing = true; this.sidebar();
    try { await this.app.settled(); this.app.save(await blob(at(this.app.sheet.sheet, "handover")), `${this.app.sheet.sheet.replace(/\.toml$/, "")}.html`); } catch (fault) { this.app.told(fault); }
    this.handing = false; this.sidebar();
  }
}
