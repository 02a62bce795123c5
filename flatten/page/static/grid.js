// A profile on a grid: its points are dragged, moved with the arrow keys, or typed as rows.
import { h, s, icon } from "./dom.js";
import { toMm, typed, bare } from "./lengths.js";

const W = 460, H = 300, EDGE = 34;

export function profileEditor(field, unit, onsave, word = "height") {
  const points = (Array.isArray(field.value) ? field.value : []).map((pair) => (Array.isArray(pair) ? pair : [0, 0]).map((one) => one));
  const box = h("div", null);
  const mm = () => points.map(([x, y]) => [toMm(x, unit) ?? 0, toMm(y, unit) ?? 0]);
  function rule() {
    const all = mm(), xs = all.map((p) => p[0]), ys = all.map((p) => p[1]);
    const x0 = Math.min(0, ...xs), x1 = Math.max(100, ...xs), y0 = Math.min(-10, ...ys) - 8, y1 = Math.max(30, ...ys) + 12;
    const kx = (W - 2 * EDGE) / (x1 - x0), ky = Math.min((H - 2 * EDGE) / (y1 - y0), kx * 3);
    return { x0, y0, x1, y1, kx, ky, to: ([x, y]) => [EDGE + (x - x0) * kx, H - EDGE - (y - y0) * ky], from: (px, py) => [x0 + (px - EDGE) / kx, y0 + (H - EDGE - py) / ky] };
  }
  const rounded = (value) => unit === "in" ? `${bare(value, "in")} in` : Math.round(value);
  function draw() {
    const k = rule(), step = k.x1 - k.x0 > 300 ? 100 : 50;
    let lines = "";
    for (let x = Math.ceil(k.x0 / step) * step; x <= k.x1; x += step) lines += `M${k.to([x, k.y0]).join(" ")}L${k.to([x, k.y1]).join(" ")}`;
    for (let y = Math.ceil(k.y0 / 10) * 10; y <= k.y1; y += 10) lines += `M${k.to([k.x0, y]).join(" ")}L${k.to([k.x1, y]).join(" ")}`;
    const svg = s("svg", { viewBox: `0 0 ${W} ${H}`, style: { width: "100%", touchAction: "none", background: "var(--ground)", borderRadius: "10px" }, role: "group", "aria-label": "Profile: drag its points" },
      s("path", { class: "square d-thin", style: { opacity: "0.35" }, d: lines }),
      s("path", { class: "d-tape", d: `M${k.to([k.x0, 0]).join(" ")}L${k.to([k.x1, 0]).join(" ")}` }),
      s("path", { class: "d-tape now", style: { fill: "none" }, d: "M" + mm().map((p) => k.to(p).map((x) => x.toFixed(1)).join(" ")).join("L") }));
    mm().forEach((p, n) => {
      const [px, py] = k.to(p);
      const dot = s("circle", { class: "grid-point", cx: px, cy: py, r: 11, tabindex: 0, role: "slider", "aria-label": `Reading ${n + 1}`, "aria-valuenow": Math.round(p[1]), "aria-valuetext": `${word} ${bare(p[1], unit)} at ${bare(p[0], unit)}` });
      dot.addEventListener("pointerdown", (event) => {
        dot.setPointerCapture(event.pointerId); event.preventDefault(); dot.focus();
        const move = (one) => {
          const rect = svg.getBoundingClientRect(), [x, y] = k.from((one.clientX - rect.left) * W / rect.width, (one.clientY - rect.top) * H / rect.height);
          const now = mm(), low = n ? now[n - 1][0] + 1 : -Infinity, high = n < now.length - 1 ? now[n + 1][0] - 1 : Infinity;
          points[n] = [rounded(Math.min(Math.max(x, low), high)), rounded(y)];
          const [qx, qy] = k.to([toMm(points[n][0], unit), toMm(points[n][1], unit)]);
          dot.setAttribute("cx", qx); dot.setAttribute("cy", qy);
          svg.querySelector(".now").setAttribute("d", "M" + mm().map((q) => k.to(q).map((v) => v.toFixed(1)).join(" ")).join("L"));
        };
        const up = () => { dot.removeEventListener("pointermove", move); onsave(points); };
        dot.addEventListener("pointermove", move); dot.addEventListener("pointerup", up, { once: true });
      });
      dot.addEventListener("keydown", (event) => {
        const by = { ArrowUp: [0, 1], ArrowDown: [0, -1], ArrowLeft: [-1, 0], ArrowRight: [1, 0] }[event.key];
        if (!by) return;
        event.preventDefault();
        points[n] = [rounded(p[0] + by[0] * (event.shiftKey ? 10 : 1)), rounded(p[1] + by[1] * (event.shiftKey ? 10 : 1))];
        onsave(points, n);
      });
      svg.append(dot);
    });
    const change = (n, which) => (event) => { points[n][which] = typed(event.target.value) ?? 0; onsave(points); };
    const rows = h("table", { class: "pts" }, h("thead", null, h("tr", null, h("th", { scope: "col" }, "place"), h("th", { scope: "col" }, word), h("th", { scope: "col" }, h("span", { class: "unseen" }, "take out")))),
      h("tbody", null, points.map((p, n) => h("tr", null,
        h("td", null, h("input", { value: String(p[0]), inputmode: unit === "in" ? "text" : "decimal", "aria-label": `place of reading ${n + 1}`, onchange: change(n, 0) })),
        h("td", null, h("input", { value: String(p[1]), inputmode: unit === "in" ? "text" : "decimal", "aria-label": `${word} of reading ${n + 1}`, onchange: change(n, 1) })),
        h("td", null, points.length > 2 && h("button", { class: "b plain", "aria-label": `take out reading ${n + 1}`, onclick: () => { points.splice(n, 1); onsave(points); } }, icon("away")))))));
    const add = h("button", { class: "b", onclick: () => {
      const all = mm(), last = all[all.length - 1] || [0, 0], before = all[all.length - 2] || [last[0] - 100, 0];
      points.push([rounded(last[0] + Math.max(last[0] - before[0], 20)), rounded(last[1])]);
      onsave(points);
    } }, icon("plus"), "Reading");
    box.replaceChildren(svg, rows, add);
  }
  draw();
  return box;
}

// Readings under weights as rows: kg, then lengths.
export function weighedEditor(field, unit, onsave) {
  const rows = (Array.isArray(field.value) ? field.value : []).map((row) => (Array.isArray(row) ? [...row] : []));
  const heads = ["kg", ...field.lengths];
  const change = (n, c) => (event) => { rows[n][c] = typed(event.target.value) ?? 0; onsave(rows); };
  const cell = (row, n, c) => h("td", null, h("input", { value: String(row[c] ?? ""), inputmode: c && unit === "in" ? "text" : "decimal", "data-at": `${field.keys.join("-")}-${n}-${c}`, "aria-label": `${heads[c]}, reading ${n + 1}`, onchange: change(n, c) }));
  return h("div", null,
    h("table", { class: "pts weighed" }, h("thead", null, h("tr", null, heads.map((head) => h("th", { scope: "col" }, head)), h("th", { scope: "col" }, h("span", { class: "unseen" }, "take out")))),
      h("tbody", null, rows.map((row, n) => h("tr", null, heads.map((_, c) => cell(row, n, c)), h("td", null, rows.length > 3 && h("button", { class: "b plain", "aria-label": `take out reading ${n + 1}`, onclick: () => { rows.splice(n, 1); onsave(rows); } }, icon("away"))))))),
    h("button", { class: "b", onclick: () => { const last = rows[rows.length - 1] || [0.25, 0, 0]; rows.push([2 * Number(last[0]), ...last.slice(1)]); onsave(rows); } }, icon("plus"), "Weight"));
}
