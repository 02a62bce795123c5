// Lengths as a sheet writes them: 520, 52 cm, 20 1/2 in. For drawing only; what counts is what the server reads.
const MM = { mm: 1, cm: 10, m: 1000, in: 25.4, inch: 25.4, inches: 25.4, '"': 25.4, "": 1 };

export function toMm(value, unit) {
  if (typeof value === "number") return value * MM[unit];
  const text = String(value ?? "").trim().toLowerCase().replace(/[\u2044]/g, "/").replace(/[\u2033\u201d]/g, '"')
    .replace(/\u00bd/g, " 1/2").replace(/\u00bc/g, " 1/4").replace(/\u00be/g, " 3/4");
  const found = /^([-+]?)\s*(?:(\d+)(?:\s+|-)(\d+)\s*\/\s*(\d+)|(\d+)\s*\/\s*(\d+)|(\d+\.?\d*|\.\d+))\s*(mm|cm|m|in|inch|inches|")?$/.exec(text);
  if (!found) return null;
  const [, sign, whole, a, b, c, d, plain, given] = found;
  const amount = whole ? Number(whole) + Number(a) / Number(b) : c ? Number(c) / Number(d) : Number(plain);
  const mm = amount * MM[given || unit] * (sign === "-" ? -1 : 1);
  return Number.isFinite(mm) ? mm : null;
}

// What is written into the sheet for what was typed: a number where it is one, else the text.
export function typed(text) {
  const plain = text.trim();
  if (plain === "") return null;
  return /^[-+]?(\d+\.?\d*|\.\d+)$/.test(plain) && Number.isFinite(Number(plain)) ? Number(plain) : plain;
}

export function inches(mm) {
  const parts = Math.round(Math.abs(mm) / 25.4 * 16);
  let whole = Math.floor(parts / 16), top = parts % 16, low = 16;
  while (top && top % 2 === 0) { top /= 2; low /= 2; }
  return (mm < 0 && parts ? "-" : "") + (whole || !top ? whole : "") + (top ? (whole ? " " : "") + top + "/" + low : "");
}
export const shown = (mm, unit, places = 0) => unit === "in" ? inches(mm) + " in" : mm.toFixed(places) + " mm";
export const bare = (mm, unit) => unit === "in" ? inches(mm) : String(Math.round(mm * 10) / 10);
