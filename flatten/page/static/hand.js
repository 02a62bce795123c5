// The page that is handed over: the seat to turn, its cut, its pieces and figures. Nothing is asked of anyone.
import { h, put, choice } from "./dom.js";
import { shown } from "./lengths.js";
import { SeatView, VIEWS, KEYS, css, canDraw, readSeat } from "./seat.js";
import { slice, cutDrawing } from "./cut.js";
import { pieceDrawing } from "./pieces.js";

export function begin(root, buffer, answer) {
  const unit = answer.unit, seat = readSeat(buffer), plainText = [...root.childNodes];
  let panel = null, seam = null, view = "panels", share = 0.5;
  const stand = h("div", { class: "stand" }), side = h("div", { class: "side" }), key = h("div", { class: "key", hidden: true });
  const rests = seat.pads.some((pad) => pad.rests), pleated = seat.pads.some((pad) => pad.valleys.length), offered = VIEWS.filter(([word]) => rests || !["padded", "settled", "crush"].includes(word)).filter(([word]) => word !== "pleated" || pleated);
  const slider = h("input", { type: "range", min: 0, max: 1000, value: 500, "aria-label": "Where the cut goes", oninput: (e) => { share = Number(e.target.value) / 1000; cut(); } }), place = h("output", null, "");
  put(root, h("div", { class: "see" }, stand, side));
  put(stand, h("div", { class: "over" }, choice("view", offered, view, (word) => { view = word; if (three) three.show(word); keys(); }, "What is shown")), key, h("div", { class: "under" }, h("div", { class: "cutline" }, h("b", { class: "small" }, "Cut"), slider, place)));
  const three = canDraw() ? new SeatView((name) => { panel = name; seam = null; draw(); }) : null;
  if (three) { three.put(stand); three.set(seat); }
  let cutbox = h("div", null);
  function keys() { const one = KEYS[view]; key.hidden = !one; if (one) put(key, h("b", null, one.name), h("i", { style: { background: css(one.stops) } }), h("span", null, one.words.map((word) => h("span", null, word)))); }
  function cut() {
    const pad = seat.pads[0], e = pad.inverse.elements;
    let low = Infinity, high = -Infinity;
    for (let k = 0; k < pad.settled.length; k += 3) { const v = e[0] * pad.settled[k] + e[4] * pad.settled[k + 1] + e[8] * pad.settled[k + 2] + e[12]; low = Math.min(low, v); high = Math.max(high, v); }
    const at = low + (high - low) * (0.004 + 0.992 * share), now = slice(pad, "settled", 0, at);
    place.textContent = shown(at, unit);
    if (three) three.showCut(now);
    put(cutbox, cutDrawing(slice(pad, "bare", 0, at).lines, slice(pad, "padded", 0, at).lines, now.lines, [], unit));
  }
  function draw() {
    if (three) three.light(panel, seam);
    const piece = answer.pieces.find((one) => one.panels.includes(panel));
    cutbox = h("div", null);
    put(side, piece ? h("section", null, h("h2", null, piece.name), pieceDrawing(piece, seam, (name) => { seam = name; draw(); }), h("p", null, piece.verdict || "not judged", ", ", piece.count), h("p", { class: "small" }, piece.next), h("button", { class: "b", onclick: () => { panel = null; draw(); } }, "The whole seat")) : null,
      h("section", null, h("h2", null, "The cut"), cutbox),
      h("section", null, h("h2", null, "The pieces"), h("p", null, answer.overall), h("ul", { class: "verdicts" }, answer.pieces.map((one) => h("li", null, h("button", { class: "line", onclick: () => { panel = one.panels[0]; draw(); } }, h("span", { class: `v ${one.looks}`, "aria-hidden": "true" }, one.symbol), h("b", null, one.name), h("span", { class: "small quiet" }, one.verdict || "")))))),
      h("details", null, h("summary", null, "In words, and what to mind"), h("div", null, plainText)));
    cut();
  }
  draw();
}
