// The page as a whole: which sheet, which part of the work, what was changed, what was answered.
import { h, put, icon, announce } from "./dom.js";
import { readKey, get, post, bytes, text, listen, at } from "./api.js";
import { readSeat } from "./seat.js";
import { Measure, says } from "./measure.js";
import { See } from "./see.js";
import { Make } from "./make.js";
import { Fit } from "./fit.js";
import { Hides } from "./hides.js";
import { kindPicture } from "./kinds.js";

const PARTS = [["measure", "Measure"], ["see", "See"], ["decide", "Decide"], ["hides", "Hides"], ["make", "Make"], ["fit", "Fit"]];
const SHOP = "trimloft-shop";
const MINE = "trimloft-right-";
const kept = (sheet) => { try { const found = JSON.parse(localStorage.getItem(MINE + sheet) || "[]"); return Array.isArray(found) ? found : []; } catch { return []; } };
const $ = (id) => document.getElementById(id);

class App {
  constructor() {
    this.sheet = null; this.answer = null; this.seat = null; this.part = "begin"; this.queue = []; this.saving = null; this.linked = true; this.work = null; this.refused = null;
    this.measure = new Measure(this); this.see = new See(this); this.make = new Make(this); this.fit = new Fit(this); this.hides = new Hides(this);
    window.addEventListener("hashchange", () => { if (location.hash.includes("key=")) this.again(); else this.route(); });
    document.addEventListener("visibilitychange", () => { if (!document.hidden && this.sheet) this.reload(); });
    document.addEventListener("keydown", (e) => { if ((e.ctrlKey || e.metaKey) && !e.altKey && e.key.toLowerCase() === "z" && !/INPUT|TEXTAREA/.test(e.target.tagName) && this.sheet) { e.preventDefault(); this.step(e.shiftKey ? "redo" : "undo"); } });
    window.addEventListener("beforeunload", (e) => { if (this.queue.length) e.preventDefault(); });
    this.listen(); this.route();
  }

  listen() { listen((row) => this.news(row), (up, fault) => this.link(up, fault)); }
  // The program was started again and its new address put into this tab: what waits here goes out with the new key.
  again() { readKey(); this.listen(); this.link(true); this.route(); }

  announce(words) { announce(words); }

  async route() {
    const found = /^#\/([^/]+)\/(\w+)/.exec(location.hash);
    if (!found) { this.part = "begin"; this.sheet = null; await this.begin(); return; }
    const name = decodeURIComponent(found[1]), part = PARTS.some(([word]) => word === found[2]) ? found[2] : "measure";
    if (!this.sheet || this.sheet.sheet !== name) {
      this.answer = null; this.seat = null; this.refused = null; this.see.before = null; this.see.panel = null; this.measure.stage = null; this.measure.tapes.forget(); this.make.papers = []; this.fit.forget(); this.hides.forget(); this.see.variants.forget(); this.see.reliefs.forget();
      try { this.sheet = await get(at(name)); } catch (fault) { this.sheet = null; this.head(); this.failed(fault); return; }
      this.look();
    }
    this.part = part; this.open();
  }

  to(part) { location.hash = `#/${encodeURIComponent(this.sheet.sheet)}/${part}`; }
  toFit(piece) { this.fit.point(piece); this.to("fit"); }
  get view() { return { measure: this.measure, make: this.make, fit: this.fit, hides: this.hides }[this.part] || this.see; }
  toPanel(panel) { this.see.panel = panel; this.see.seam = null; this.to("see"); }

  open() {
    this.see.leave();
    const root = $("work"); root.scrollTop = 0;
    this.head(); this.foot();
    this.view.show(root, this.part === "decide");
    document.title = `${this.sheet.title}: ${PARTS.find(([word]) => word === this.part)[1]}`;
  }

  failed(fault) {
    const waiting = this.queue.flatMap((one) => one.changes);
    put($("work"), h("div", { class: "begin" }, waiting.length ? h("div", { class: "notice bad" }, h("b", null, "Not saved yet: "), saidOf(waiting), ". Put the new address that the program printed into this tab, and it is saved.") : null, h("h1", null, fault.status === 401 ? "This page has no key" : "That cannot be opened"), (fault.problems || []).map((p) => says(p, true)), fault.status !== 401 ? h("a", { class: "b", href: "#/" }, icon("back"), "All sheets") : null));
  }

  async begin() {
    this.head(); this.foot();
    let found;
    try { found = await get("/api/folder"); } catch (fault) { this.failed(fault); return; }
    if (this.part !== "begin") return;
    document.title = "Trimloft: the bench page";
    const sheets = found.sheets.filter((one) => one.is_sheet);
    put($("work"), h("div", { class: "begin" },
      h("h1", null, "What is on the bench?"), h("p", { class: "lead" }, "Choose the kind of seat. Then measure, see it, decide on the padding, and print the patterns. Everything stays in the folder ", h("b", null, `\u201c${found.folder}\u201d`), " on this computer."),
      sheets.length ? [h("h2", null, "Go on with"), h("ul", { class: "jobs" }, sheets.map((one) => h("li", null, h("a", { href: `#/${encodeURIComponent(one.sheet)}/measure` }, h("b", null, one.title), h("span", { class: "small" }, one.sheet)))))] : null,
      h("h2", null, sheets.length ? "Or begin a new one" : "Begin"), h("div", { class: "kinds" }, found.kinds.map((kind) => h("button", { onclick: () => this.name(kind) }, kindPicture(kind.word), h("b", null, kind.words), h("span", { class: "small quiet" }, kind.more))))));
  }

  name(kind) {
    const told = h("div", null);
    const input = h("input", { id: "title", class: "words", maxlength: 60, autocomplete: "off", placeholder: "Bow cabin, port side" });
    const go = async (event) => {
      event.preventDefault();
      try { const made = await post("/api/sheets", { kind: kind.word, title: input.value }); box.close(); this.sheet = null; location.hash = `#/${encodeURIComponent(made.sheet)}/measure`; } catch (fault) { put(told, (fault.problems || []).map((p) => says(p))); input.focus(); }
    };
    const box = h("dialog", { "aria-labelledby": "named" }, h("form", { onsubmit: go }, h("h2", { id: "named" }, `${kind.words}: what is the job called?`), h("p", { class: "quiet" }, "The name is printed on every piece."), h("div", { class: "field" }, h("label", { for: "title" }, "Name of the job"), h("div", { class: "in", style: { maxWidth: "none" } }, input), told), h("div", { class: "row", style: { border: 0, background: "none" } }, h("button", { class: "b", type: "button", onclick: () => box.close() }, "Not now"), h("button", { class: "b main", type: "submit" }, "Measure it", icon("out")))));
    box.addEventListener("close", () => box.remove());
    document.body.append(box); box.showModal(); input.focus();
  }

  head() {
    const dark = document.documentElement.dataset.shop === "dark" || (!document.documentElement.dataset.shop && matchMedia("(prefers-color-scheme: dark)").matches);
    put($("head"), h("div", { class: "job" }, h("img", { src: "mark.svg", alt: "" }), this.sheet ? h("button", { class: "b plain", title: "all sheets of the folder", onclick: () => { location.hash = "#/"; } }, h("span", null, this.sheet.title), h("span", { class: "unseen" }, ": to all sheets")) : h("span", null, "Trimloft")),
      this.sheet ? h("nav", { "aria-label": "The work" }, PARTS.map(([word, words]) => h("a", { href: `#/${encodeURIComponent(this.sheet.sheet)}/${word}`, "aria-current": word === this.part ? "page" : null }, words))) : h("nav", { "aria-hidden": "true" }),
      h("div", { class: "tools" }, this.sheet ? [h("button", { class: "b plain", "aria-label": `Undo (${this.sheet.undo} steps)`, disabled: !this.sheet.undo, onclick: () => this.step("undo") }, icon("undo")), h("button", { class: "b plain", "aria-label": `Redo (${this.sheet.redo} steps)`, disabled: !this.sheet.redo, onclick: () => this.step("redo") }, icon("redo"))] : null,
        h("button", { class: "b plain", "aria-label": dark ? "Light, for a bright shop" : "Dark, for a dim shop", onclick: () => this.shop(dark ? "light" : "dark") }, icon("shop"))));
  }

  shop(word) { document.documentElement.dataset.shop = word; try { localStorage.setItem(SHOP, word); } catch { /* for this time alone */ } this.head(); if (this.see.seat3 && this.seat) { this.see.seat3.build(); this.see.seat3.draw(); } }

  foot() {
    const foot = $("foot");
    if (!this.sheet) { put(foot, h("div", { class: "state" }, h("p", { class: "small" }, this.linked ? "Nothing leaves this computer." : "The program behind this page does not answer."))); return; }
    const wrong = this.sheet.problems.filter((p) => !p.warning).length, a = this.answer, current = a && a.mark === this.sheet.mark;
    const next = { measure: ["see", "See the seat"], see: ["decide", "Decide"], decide: ["make", "Make the papers"], hides: ["make", "Make the papers"], make: this.make.papers.length ? ["fit", "After the dry fit"] : null, fit: null }[this.part];
    let sign = h("span", { class: "v busy", "aria-hidden": "true" }, "\u2026"), words = "Being computed", small = this.queue.length ? "not saved yet" : "saved";
    if (!this.linked) { words = "The program behind this page does not answer"; small = this.queue.length ? "what you typed is kept here; start the program again" : "start it again, then go on here"; sign = h("span", { class: "v bad", "aria-hidden": "true" }, "!"); }
    else if (wrong) { words = wrong === 1 ? "One thing to mend" : `${wrong} things to mend`; small += `, ${this.sheet.problems.find((p) => !p.warning).where}`; sign = h("span", { class: "v bad", "aria-hidden": "true" }, "!"); }
    else if (this.refused) { words = "It cannot be made like this"; small = this.refused[0].text.slice(0, 110); sign = h("span", { class: "v bad", "aria-hidden": "true" }, "!"); }
    else if (current) { words = a.overall; small += a.level === "draft" ? ", a draft: being made exact" : `, exact, in ${a.seconds.toFixed(1)} s`; sign = h("span", { class: `v ${a.fits ? "good" : "bad"}`, "aria-hidden": "true" }, a.fits ? "\u2713" : "\u2717"); }
    const begun = this.begun();
    if (begun.length && this.part !== "measure") small = `with the example's numbers: ${begun.map((one) => one.title).join(", ")}; ${small}`;
    const going = this.work && this.work.state === "running";
    put(foot, h("div", { class: "state" }, sign, h("div", null, h("p", null, words), h("p", { class: "small" }, going && this.work.doing ? `${small}; ${this.work.doing}` : small)), going ? h("span", { class: "bar" }, h("i", { style: { width: `${this.work.of ? Math.round(100 * this.work.done / this.work.of) : 35}%` } })) : null), next && this.part !== "measure" ? h("button", { class: "b main", onclick: () => this.to(next[0]) }, next[1], icon("out")) : null);
  }

  // Changes go out one after another, each on top of what the last one came to.
  change(changes) { return this.send((base) => post(at(this.sheet.sheet, "change"), { base, changes }), changes); }
  row(keys, row) { return this.send((base) => post(at(this.sheet.sheet, "row"), { base, keys, row }), []); }
  reading(keys, mm) { return this.send(() => post(at(this.sheet.sheet, "reading"), { keys, mm }), []); }
  step(word) { return this.send((base) => post(at(this.sheet.sheet, word), { base }), []); }

  send(work, changes) {
    return new Promise((done) => { this.queue.push({ work, changes, done }); this.foot(); this.drain(); });
  }

  // Stages in which nothing was measured yet, and nobody said that it is right all the same.
  begun() { return this.sheet.stages.filter((one) => one.begun && !kept(this.sheet.sheet).includes(one.id)); }
  asItIs(id) { try { localStorage.setItem(MINE + this.sheet.sheet, JSON.stringify([...kept(this.sheet.sheet), id])); } catch { /* it is asked again */ } this.foot(); this.view.took(); }

  async settled() { while (this.queue.length) await new Promise((go) => { setTimeout(go, 60); }); }

  async drain() {
    if (this.saving) return;
    this.saving = true;
    while (this.queue.length) {
      const { work, changes, done } = this.queue[0];
      try { this.took(await work(this.sheet.mark)); } catch (fault) {
        if (fault.status === 401) { this.saving = null; this.link(false, fault); return; }
        if (fault.status === 0) { this.saving = null; this.link(false); setTimeout(() => this.drain(), 1500); return; }
        // A refusal is an answer too, also where the stream of news has not noticed any break.
        this.linked = true;
        if (fault.code === "W308") await this.both(changes, fault); else this.told(fault);
      }
      this.queue.shift(); done();
    }
    this.saving = null; this.foot(); this.look();
  }

  took(sheet) { this.sheet = sheet; this.refused = null; this.linked = true; this.head(); this.foot(); if (this.part === "measure") this.view.took(); else this.keepFocus(() => this.view.took()); }

  keepFocus(work) { const name = document.activeElement && document.activeElement.dataset ? document.activeElement.dataset.at : null; work(); if (name) { const again = [...document.querySelectorAll("[data-at]")].find((one) => one.dataset.at === name); if (again) again.focus({ preventScroll: true }); } }

  async look() { if (!this.sheet || !this.sheet.usable) { this.foot(); return; } try { await post(at(this.sheet.sheet, "look")); } catch (fault) { if (fault.status) this.told(fault); } }

  async reload() { try { const now = await get(at(this.sheet.sheet)); if (now.mark !== this.sheet.mark && !this.queue.length) { this.took(now); this.look(); } } catch (fault) { if (fault.status === 404) this.told(fault); } }

  // The file was changed by someone else while something was changed here: both are shown, one is kept.
  async both(changes, fault) {
    let theirs, mine, now;
    try { now = await get(at(this.sheet.sheet)); [theirs, mine] = await Promise.all([text(at(this.sheet.sheet, "text")), text(at(this.sheet.sheet, `text?mark=${this.sheet.mark}`))]); } catch { this.told(fault); return; }
    const said = saidOf(changes);
    await new Promise((done) => {
      const pick = async (mark, more) => { box.close(); if (mark) try { this.took(await post(at(this.sheet.sheet, "keep"), { base: now.mark, mark, changes: more })); } catch (next) { this.told(next); } else this.took(now); done(); };
      const [a, b] = differing(mine, theirs);
      const box = h("dialog", { "aria-labelledby": "both" }, h("h2", { id: "both" }, "The sheet was changed elsewhere"), h("p", null, "Another program or another tablet saved it meanwhile. Nothing is lost: choose which one to go on with; undo brings the other back."), said ? h("p", null, "Your change: ", h("b", null, said)) : null, h("div", { class: "two" }, h("div", null, h("h3", null, "As you had it"), h("pre", { class: "text" }, a)), h("div", null, h("h3", null, "As it is in the file"), h("pre", { class: "text" }, b))),
        h("div", { class: "row", style: { border: 0, background: "none" } }, h("button", { class: "b", onclick: () => pick(this.sheet.mark, changes) }, "Mine, with my change"), h("button", { class: "b", onclick: () => pick(null, []) }, "The file as it is"), h("button", { class: "b main", onclick: () => pick(now.mark, changes) }, "The file, with my change")));
      box.addEventListener("cancel", (e) => e.preventDefault());
      box.addEventListener("close", () => box.remove());
      document.body.append(box); box.showModal();
    });
  }

  async news(row) {
    if (row.kind === "hello" && this.sheet) { this.reload(); this.look(); return; }
    if (!this.sheet) { if (row.kind === "sheet" && this.part === "begin") this.begin(); return; }
    if (row.sheet !== this.sheet.sheet) return;
    if (row.kind === "sheet") {
      if (!row.mark) { this.notice("The sheet was moved or deleted. What you see is still here; any change you make now is refused until the file is back."); return; }
      if (row.mark !== this.sheet.mark && !this.queue.length && !this.saving) { await this.reload(); if (row.elsewhere) this.notice("The sheet was changed in another program; you see it as it is now. Undo brings back what you had."); }
    } else if (row.kind === "papers") this.make.news(row);
    if (row.kind === "work") {
      this.work = row;
      if (row.sections && row.mark === this.sheet.mark) this.see.rounded(row.sections);
      if (row.state === "refused" || row.state === "failed") { if (row.mark === this.sheet.mark) { this.refused = row.problems; if (this.view === this.see) this.see.stand && this.see.stand.isConnected && this.see.sidebar(); } }
      if (row.state === "done" && row.level !== "section") await this.fetchAnswer();
      this.foot();
    }
  }

  async fetchAnswer() {
    try {
      const answer = await get(at(this.sheet.sheet, "answer"));
      if (this.answer && this.answer.id === answer.id) return;
      const seat = readSeat(await bytes(`/api/answers/${answer.id}/seat`));
      const before = this.answer && this.answer.mark !== answer.mark ? this.seat : this.see.before;
      if (this.answer && this.answer.mark === answer.mark && !answer.changes.length) answer.changes = this.answer.changes;
      this.answer = answer; this.seat = seat; this.refused = null;
      this.keepFocus(() => this.see.newSeat(before)); this.make.refresh(); if (this.view.answered) this.keepFocus(() => this.view.answered()); this.foot();
      if (answer.level === "final") announce(answer.overall);
    } catch (fault) { if (fault.status && fault.status !== 404) this.told(fault); }
  }

  link(up, fault) {
    this.linked = up;
    if (fault) this.failed(fault);
    this.foot();
    if (up && this.queue.length) this.drain();
  }

  told(fault) { this.notice(fault.problems && fault.problems.length ? fault.problems.map((p) => `${p.text} (${p.code})`).join("; ") : fault.message, true); }

  notice(words, bad) {
    const old = document.querySelector(".notice.top"); if (old) old.remove();
    const box = h("div", { class: `notice top${bad ? " bad" : ""}`, role: "alert" }, h("span", null, words), " ", h("button", { class: "b plain", onclick: () => box.remove() }, "Good"));
    $("work").prepend(box);
  }

  save(data, name) {
    const link = h("a", { href: URL.createObjectURL(data), download: name });
    document.body.append(link); link.click(); link.remove();
    setTimeout(() => URL.revokeObjectURL(link.href), 60000);
  }
}

const saidOf = (changes) => changes.map((one) => `${one.keys.filter((k) => typeof k === "string").join(", ")}: ${JSON.stringify(one.value)}`).join("; ");

// Only the lines in which two texts differ, with a line around them.
function differing(mine, theirs) {
  const a = mine.split("\n"), b = theirs.split("\n"), inB = new Set(b), inA = new Set(a);
  const only = (lines, others) => lines.filter((line) => !others.has(line)).join("\n") || "(nothing that the other has not)";
  return [only(a, inB), only(b, inA)];
}

try { const kept = localStorage.getItem(SHOP); if (kept) document.documentElement.dataset.shop = kept; } catch { /* none */ }
readKey();
window.bench = new App();
