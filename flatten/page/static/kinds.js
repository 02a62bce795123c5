// A small drawing of each kind of seat, in the page's own line.
import { s } from "./dom.js";

const BODY = {
  box: ["M22 60 84 38l52 16-62 24z", "M22 60v16l52 18V78M74 94l62-24V54"],
  slip: ["M30 62 86 44l42 16-56 20z", "M30 62v8l42 18v-8M72 88l56-20v-8"],
  stool: ["M30 46a45 16 0 0 0 90 0 45 16 0 0 0-90 0", "M30 46v18a45 16 0 0 0 90 0V46"],
  bench: ["M12 58 74 38l68 14-64 22z", "M12 58v20l66 20V74M78 98l64-22V52M26 53.500l66 17M42 48.500l66 16M58 43.500l64 15"],
  back: ["M40 84 44 22q0-8 8-8h44q8 0 9 8l6 62z", "M111 84l10-5-5-58q-1-8-9-9l-12-1M52 30h46"],
  bucket: ["M40 70 46 20q1-8 10-8h34q8 0 9 8l5 50z", "M30 92q-6-26 14-26h64q20 0 14 26zM46 66q6 8 30 8t30-8"],
  roll: ["M36 46a14 22 0 1 0 .1 0", "M36 46h74a14 22 0 0 1 0 44H36"],
  card: ["M22 30h92l14 16-6 42H22z", "M52 52h30v14H52zM100 74a4 4 0 1 0 .1 0"],
};
export function kindPicture(kind) {
  const [face, rest] = BODY[kind] || BODY.box;
  return s("svg", { viewBox: "0 0 150 106", "aria-hidden": "true" }, s("path", { class: "d-shape", d: face }), s("path", { class: "d-thin", style: { stroke: "var(--ink)", strokeWidth: "2" }, d: rest }));
}
