// The questions that the page asks the program. The key is the last part of the page's own address.

const key = location.pathname.split("/").filter(Boolean).pop() || "";

// Lost says that the program does not answer.
export class Lost extends Error {}

// Refused carries what the program said of a question that it can't answer.
export class Refused extends Error {
  constructor(fault, status) { super(fault.message); this.fault = fault; this.status = status; }
}

async function post(name, body, signal) {
  let r;
  try {
    r = await fetch(name, {method: "POST", headers: {"Offbeat-Key": key, "Content-Type": "application/json"}, body: JSON.stringify(body), signal});
  } catch (e) {
    if (e.name === "AbortError") throw e;
    throw new Lost("no answer");
  }
  return r;
}

async function refused(r) {
  const t = await r.text();
  try { return new Refused(JSON.parse(t).fault, r.status); } catch { return new Refused({message: t, short: t, row: -1}, r.status); }
}

// ask gives the answer to a question.
export async function ask(name, body, signal) {
  const r = await post(name, body, signal);
  if (!r.ok) throw await refused(r);
  return r.json();
}

// file fetches a file that the program makes.
export async function file(name, body) {
  const r = await post(name, body);
  if (!r.ok) throw await refused(r);
  return r.blob();
}

// solve asks for the answer of a state, or of its lot by the name "lot"; told hears how far it has come.
export async function solve(state, signal, told, name = "solve") {
  const r = await post(name, state, signal);
  if (!r.ok) throw await refused(r);
  const reader = r.body.pipeThrough(new TextDecoderStream()).getReader();
  let rest = "";
  for (;;) {
    let piece;
    try { piece = await reader.read(); } catch (e) {
      if (e.name === "AbortError") throw e;
      throw new Lost("the answer broke off");
    }
    rest += piece.value || "";
    const lines = rest.split("\n");
    rest = lines.pop();
    for (const l of lines) {
      const m = JSON.parse(l);
      if (m.fault) throw new Refused(m.fault, 422);
      if (m.answer) return m.answer;
      told(m);
    }
    if (piece.done) throw new Lost("the answer broke off");
  }
}

// send sends a capture; told hears how far. The second result stops it.
export function send(f, told) {
  const x = new XMLHttpRequest();
  const done = new Promise((ok, no) => {
    x.open("POST", "send?name=" + encodeURIComponent(f.name));
    x.setRequestHeader("Offbeat-Key", key);
    x.upload.onprogress = e => told(e.loaded, e.total);
    x.onerror = () => no(new Lost("no answer"));
    x.onabort = () => no(new DOMException("stopped", "AbortError"));
    x.onload = () => {
      let v;
      try { v = JSON.parse(x.responseText); } catch { v = {fault: {message: x.responseText, short: x.responseText, row: -1}}; }
      if (x.status === 200) ok(v); else no(new Refused(v.fault, x.status));
    };
    x.send(f);
  });
  return [done, () => x.abort()];
}
