// What was off at a dry fit: one row about an edge of a piece, between two of its marks.
import { h, put } from "./dom.js";
import { typed } from "./lengths.js";

const WORDS = [["take_in", "Take in"], ["let_out", "Let out"]];
const pick = (label, rows, chosen, onpick) => h("div", { class: "field" }, h("label", null, label, h("select", { "aria-label": label, onchange: (e) => onpick(e.target.value) },
  rows.map(([value, text]) => h("option", { value, selected: value === chosen }, text)))));

export function fitForm(app, piece) {
  const rows = (piece.marks || []).filter((one) => one.places.length > 1);
  if (!rows.length) return null;
  const asked = { edge: rows[0].edge, from: "", to: "", way: "take_in", counted: "each layer", round: "" };
  const marks = h("div", null), amount = h("input", { type: "text", inputmode: "text", class: "words", "aria-label": "By how much, for example 6 or 1/4 in", "data-at": "fit-amount" });
  const round = h("input", { type: "number", min: 1, max: 99, class: "words", value: "1", "aria-label": "Which dry fit" });
  const wrong = h("p", { class: "small bad", role: "alert" });
  const turn = () => {
    const places = rows.find((one) => one.edge === asked.edge).places;
    asked.from = places[0]; asked.to = places[places.length - 1];
    put(marks, pick("From mark", places.map((one) => [one, one]), asked.from, (word) => { asked.from = word; }), pick("To mark", places.map((one) => [one, one]), asked.to, (word) => { asked.to = word; }));
  };
  const send = (event) => {
    event.preventDefault();
    const value = typed(amount.value);
    wrong.textContent = value === null ? "Write by how much." : asked.from === asked.to ? "Pick two marks." : "";
    if (wrong.textContent) return;
    app.row(["fit"], { round: Number(round.value) || 1, piece: piece.panels[0], edge: asked.edge, from: asked.from, to: asked.to, [asked.way]: value, counted: asked.counted });
  };
  turn();
  return h("details", { class: "fit" }, h("summary", null, "After a dry fit"),
    piece.fitted && piece.fitted.length ? h("ul", { class: "small" }, piece.fitted.map((one) => h("li", null, one))) : null,
    h("form", { onsubmit: send },
      pick("Edge", rows.map((one) => [one.edge, one.edge]), asked.edge, (word) => { asked.edge = word; turn(); }), marks,
      pick("What", WORDS, asked.way, (word) => { asked.way = word; }),
      h("div", { class: "field" }, h("label", null, "By how much", h("span", { class: "in" }, amount, h("span", { class: "unit" }, app.sheet.unit)))),
      pick("Counted", [["each layer", "each layer"], ["in all", "both layers together"]], asked.counted, (word) => { asked.counted = word; }),
      h("div", { class: "field" }, h("label", null, "Which dry fit", h("span", { class: "in" }, round))),
      wrong, h("button", { class: "b", type: "submit" }, "Write it into the sheet")),
    h("p", { class: "small quiet" }, "What is sewn to this edge follows. The line that was stays on the piece, in long dashes with two dots between. Undo takes the row out again."));
}
