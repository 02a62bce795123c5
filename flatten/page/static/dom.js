// Elements made without any text being read as markup: whatever a sheet holds is shown as text.
const SVG = "http://www.w3.org/2000/svg";

function fill(node, attributes, children) {
  for (const [key, value] of Object.entries(attributes || {})) {
    if (value === null || value === undefined || value === false) continue;
    if (key.startsWith("on")) node.addEventListener(key.slice(2), value);
    else if (key === "class") node.setAttribute("class", value);
    else if (key === "value" && "value" in node && node.namespaceURI !== SVG) node.value = value;
    else if (key === "checked" || key === "disabled") node[key] = Boolean(value);
    else if (key === "style") Object.assign(node.style, value);
    else node.setAttribute(key, value === true ? "" : String(value));
  }
  for (const child of children.flat(3)) {
    if (child === null || child === undefined || child === false) continue;
    node.append(child instanceof Node ? child : document.createTextNode(String(child)));
  }
  return node;
}

export const h = (tag, attributes, ...children) => fill(document.createElement(tag), attributes, children);
export const s = (tag, attributes, ...children) => fill(document.createElementNS(SVG, tag), attributes, children);
export const put = (node, ...children) => { node.replaceChildren(); return fill(node, null, children); };

const ICONS = {
  undo: "M9 7 4 12l5 5M4 12h10a6 6 0 0 1 0 12", redo: "M15 7l5 5-5 5M20 12H10a6 6 0 0 0 0 12",
  shop: "M12 3v3M12 18v3M3 12h3M18 12h3M6 6l2 2M16 16l2 2M6 18l2-2M16 8l2-2M12 8a4 4 0 1 0 0 8 4 4 0 0 0 0-8",
  plus: "M12 5v14M5 12h14", minus: "M5 12h14", out: "M5 12h14M13 6l6 6-6 6", back: "M19 12H5M11 6l-6 6 6 6",
  away: "M6 7h12M9 7V5h6v2M8 7l1 12h6l1-12", down: "M12 4v11M7 11l5 5 5-5M5 20h14", eye: "M2 12s4-6 10-6 10 6 10 6-4 6-10 6S2 12 2 12M12 10a2 2 0 1 0 0 4 2 2 0 0 0 0-4",
};
export const icon = (name) => s("svg", { viewBox: "0 0 24 24", class: "icon", "aria-hidden": "true" }, s("path", { d: ICONS[name] }));

export function choice(name, words, chosen, onpick, label) {
  return h("div", { class: "set", role: "radiogroup", "aria-label": label },
    words.map(([word, text]) => h("label", null,
      h("input", { type: "radio", name, value: word, checked: word === chosen, onchange: () => onpick(word) }), h("span", null, text))));
}
export const announce = (text) => { document.getElementById("say").textContent = text; };
