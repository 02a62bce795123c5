// Talks to the server of this page: the key of this start goes along in a header, never in an address.
const KEPT = "trimloft-key";

export function readKey() {
  const given = new URLSearchParams(location.hash.slice(1));
  const key = given.get("key");
  try { if (key) sessionStorage.setItem(KEPT, key); } catch { /* kept in memory alone */ }
  readKey.key = key || readKey.key || kept();
  if (key) history.replaceState(null, "", location.pathname + "#" + (given.get("sheet") ? "/" + encodeURIComponent(given.get("sheet")) + "/measure" : "/"));
  return readKey.key;
}
function kept() { try { return sessionStorage.getItem(KEPT); } catch { return null; } }

export class Refused extends Error {
  constructor(status, problems) {
    super(problems.length ? problems[0].text : "the page's server does not answer");
    this.status = status; this.problems = problems;
  }
  get code() { return this.problems.length ? this.problems[0].code : ""; }
}

async function ask(path, options = {}) {
  let answer;
  try {
    answer = await fetch(path, { ...options, cache: "no-store", headers: { ...(options.body ? { "Content-Type": "application/json" } : {}), "X-Trimloft-Key": readKey.key || "" } });
  } catch {
    throw new Refused(0, [{ code: "", where: "", text: "The program behind this page does not answer. What you typed is still here; start it again, then go on.", keys: [] }]);
  }
  if (answer.ok) return answer;
  let problems = [];
  try { problems = (await answer.json()).problems || []; } catch { /* no words */ }
  throw new Refused(answer.status, problems);
}

export const get = async (path) => (await ask(path)).json();
export const bytes = async (path) => (await ask(path)).arrayBuffer();
export const text = async (path) => (await ask(path)).text();
export const blob = async (path) => (await ask(path)).blob();
export const post = async (path, body) => (await ask(path, { method: "POST", body: JSON.stringify(body || {}) })).json();
export const at = (sheet, ...rest) => ["/api/sheets", encodeURIComponent(sheet), ...rest].join("/");

// News come as lines of JSON on one long answer; after a break (a tablet that slept) it is asked for again.
export async function listen(onnews, onlink) {
  for (let wait = 400; ; wait = Math.min(wait * 2, 8000)) {
    try {
      const reader = (await ask("/api/news")).body.getReader();
      const decoder = new TextDecoder();
      let rest = "";
      onlink(true); wait = 400;
      for (;;) {
        const { value, done } = await reader.read();
        if (done) break;
        rest += decoder.decode(value, { stream: true });
        const lines = rest.split("\n");
        rest = lines.pop();
        for (const line of lines) if (line) onnews(JSON.parse(line));
      }
    } catch (fault) {
      if (fault.status === 401 || fault.status === 403) { onlink(false, fault); return; }
    }
    onlink(false);
    await new Promise((go) => { setTimeout(go, wait); });
  }
}
