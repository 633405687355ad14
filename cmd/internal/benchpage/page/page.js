// The bench page. It holds the state and shows it; what anything means is asked of the program.

import {History} from "./state.js";
import {ask, file, send, solve, Lost} from "./server.js";
import {drawLot} from "./lot.js";

const $ = id => document.getElementById(id);
const MEASURED = "MEASURED", SEEN = "SEEN"; // what stands in an advice for what is to be entered

// el builds an element: properties that begin with "on" are listeners, others are attributes; false leaves one out.
function el(tag, attrs, ...children) {
  const e = document.createElement(tag);
  for (const [k, v] of Object.entries(attrs || {})) {
    if (k.startsWith("on")) e.addEventListener(k.slice(2), v);
    else if (k === "value" || k === "checked") e[k] = v;
    else if (v !== false && v != null) e.setAttribute(k, v === true ? "" : v);
  }
  e.append(...children.filter(c => c != null && c !== false));
  return e;
}

// place shows what the program has drawn. Its styles come as data, since the page takes none in markup.
function place(where, html) {
  const t = document.createElement("template");
  t.innerHTML = html;
  for (const e of t.content.querySelectorAll("[data-style]")) e.style.cssText = e.dataset.style;
  where.replaceChildren(t.content);
}

let history = new History({design: "", evidence: [], declined: []}, false);
let begin = {};       // what the program told as the page began
let board = {};       // of the design
let answer = null;    // the last
let fault = null;     // why there is no newer one
let trail = [];
let name = "";        // of the file
let chosen = false;   // whether the name is the user's
let adding = -1;      // the evidence that gets one more condition

// go follows the state with another.
function go(change) {
  const s = {...history.now, ...change};
  if (history.step(s)) refresh();
}

function refresh() {
  showTools();
  showEvidence();
  askBoard();
}

// failed shows an error that belongs to no field.
function failed(e) {
  if (e.name === "AbortError") return;
  if (e instanceof Lost) {
    lost();
    return;
  }
  $("trouble").replaceChildren(e.fault ? e.fault.message : String(e));
}

// lost says that the program is gone, and looks until it is back. What is on the page stays.
let away = 0;
function lost() {
  if (!away) $("trouble").replaceChildren(el("p", {}, "The program no longer answers. What you have done is still on this page, which tries again by itself. If the program has ended: copy the session, paste it into a file beside the captures, and start offbeat bench with that file."),
    el("button", {type: "button", onclick: () => copy(session(history.now))}, "Copy the session"), " ", el("button", {type: "button", class: "plain", onclick: back}, "Try again"));
  clearTimeout(away);
  away = setTimeout(back, 2000);
}

async function back() {
  try { showHeard(await ask("heard", {})); } catch (e) { if (e instanceof Lost) lost(); return; }
  clearTimeout(away);
  away = 0;
  $("trouble").replaceChildren();
  if (hearing) listen();
  refresh();
}

// session is a state as the design file has it.
function session(s) {
  const keys = ["capture", "sha256", "with", "reading", "look", "channel", "invert", "single", "time_unit", "level"];
  const table = r => "\n[[evidence]]\n" + keys.filter(k => r[k] && r[k].length !== 0).map(k => k + " = " + JSON.stringify(r[k]) + "\n").join("") + (r.off ? "on = false\n" : "");
  return s.design + s.evidence.map(table).join("");
}

// ---- the board

let asked = 0;

async function askBoard() {
  const mine = ++asked;
  try {
    const b = await ask("board", {design: history.now.design});
    if (mine !== asked) return;
    if (!away) $("trouble").replaceChildren();
    board = b;
    showBoard();
    if (b.fault) { fault = null; stale(); showNext(); } else { askLot(); askAnswer(); }
  } catch (e) { failed(e); }
}

// preview predicts while a value is being typed, and keeps nothing.
let typing = 0;
async function preview(key, value) {
  const mine = ++typing;
  try {
    const b = await ask("board", {design: history.now.design, key, value});
    if (mine !== typing) return;
    beside(key, b.fault);
    if (!b.fault) $("promise").textContent = b.promise;
  } catch (e) { failed(e); }
}

// setField sets a value. One waits for the other: each begins with the design that the one before has left.
let setting = Promise.resolve();
function setField(key, value) { setting = setting.then(() => setOne(key, value)); }

async function setOne(key, value) {
  typing++;
  try {
    const b = await ask("board", {design: history.now.design, key, value});
    if (b.fault && b.design === history.now.design) { beside(key, b.fault); return; }
    go({design: b.design});
  } catch (e) { failed(e); }
}

const fieldID = key => "f-" + key.replaceAll(/[^A-Za-z0-9]/g, "-");

// beside shows a fault beside the field where it stands.
function beside(key, f) {
  for (const i of $("values").querySelectorAll("[data-key]")) {
    const mine = f && (f.key || key) === i.dataset.key;
    i.toggleAttribute("aria-invalid", false);
    if (mine) i.setAttribute("aria-invalid", "true");
    const p = $(i.id + "-fault");
    p.textContent = mine ? f.short : "";
  }
  const shown = f && $(fieldID(f.key || key || ""));
  $("text-fault").textContent = f && !shown ? (f.line ? "line " + f.line + ", column " + f.column + ": " : "") + f.short : "";
  if (f && !shown) $("whole").open = true;
}

const labels = {title: "title", circuit: "circuit", supply: "supply", history: "history", "timer.family": "device family", "timer.inputs": "inputs", "instrument.clock": "instrument’s clock"};
const label = key => labels[key] || key.replace(/^parts\./, "").replace(/\.value$/, "").replace(/^target\./, "target ").replaceAll(/[._]/g, " ");

function showBoard() {
  const empty = history.now.design.trim() === "";
  $("start").hidden = !empty;
  $("values").hidden = empty;
  if (empty) showStart();
  showFields(board.fields || []);
  if (document.activeElement !== $("text")) $("text").value = history.now.design;
  $("text").dataset.was = history.now.design;
  $("whole").hidden = $("bands").hidden = empty;
  $("promise").textContent = board.promise || "";
  place($("promise-table"), (board.sections || []).map(s => s.html).join(""));
  $("bands").hidden = !(board.sections || []).length;
  if (board.schematic) place($("schematic"), board.schematic);
  else if (!board.fault) $("schematic").replaceChildren();
  beside("", board.fault);
}

// showFields fits the form to the design. A field that stays is not made anew, so that the keyboard can go on in it, and what
// is half typed in it stays.
function showFields(fields) {
  const form = $("values");
  const kind = f => f.choices && (f.value === "" || f.choices.includes(f.value)) ? "select:" + f.choices : "input";
  const shape = JSON.stringify(fields.map(f => [f.key, kind(f)]));
  if (form.dataset.shape !== shape) {
    form.dataset.shape = shape;
    const held = document.activeElement && document.activeElement.id;
    const half = held && form.contains(document.activeElement) && document.activeElement.value;
    form.replaceChildren();
    for (const f of fields) {
      const id = fieldID(f.key);
      const attrs = {id, "data-key": f.key, "aria-describedby": id + "-fault", autocomplete: "off", spellcheck: "false", onchange: e => setField(f.key, e.target.value)};
      const input = kind(f) === "input" ? el("input", {...attrs, placeholder: f.example || "", oninput: e => preview(f.key, e.target.value)})
        : el("select", attrs, el("option", {value: ""}, "not said"), ...f.choices.map(c => el("option", {value: c}, c)));
      input.value = input.dataset.was = f.value;
      form.append(el("label", {for: id}, label(f.key)), input, el("p", {class: "wrong", id: id + "-fault"}));
    }
    if (held && form.querySelector("#" + CSS.escape(held))) { $(held).focus(); if (half !== false) $(held).value = half; }
    return;
  }
  for (const f of fields) {
    const input = $(fieldID(f.key));
    const half = document.activeElement === input && input.value !== input.dataset.was;
    if (!half) input.value = f.value;
    input.dataset.was = f.value;
  }
}

function showStart() {
  if ($("start").childElementCount) return;
  const list = el("ul", {class: "starters"});
  for (const c of begin.circuits || []) {
    const b = el("button", {type: "button", "data-circuit": c.Name, "aria-label": c.Title, onclick: () => { go({design: c.Design}); $("board").focus(); }}, el("span", {}, c.Title));
    const d = el("div", {"aria-hidden": "true"});
    place(d, c.HTML);
    for (const f of d.querySelectorAll("[id]")) if (!f.id.includes("-p")) f.removeAttribute("id");
    for (const f of d.querySelectorAll("[tabindex]")) f.removeAttribute("tabindex");
    b.append(d);
    list.append(el("li", {}, b));
  }
  $("start").replaceChildren(el("p", {}, "Which circuit is it? Its values can be typed over afterwards; another wiring can be written in the design’s text."), list);
}

// ---- the evidence

const evidence = change => {
  const all = history.now.evidence.map(r => ({...r}));
  change(all);
  go({evidence: all});
};

function nameOf(r) { return r.capture || r.reading || r.look; }

function showEvidence() {
  const list = $("rows");
  const back = typed(list);
  list.replaceChildren();
  history.now.evidence.forEach((r, i) => {
    const wrong = fault && fault.row === i;
    const said = answer && answer.rows && answer.rows[i] && !r.off ? answer.rows[i].text : "";
    const li = el("li", {class: r.off ? "off" : false},
      el("div", {class: "head"},
        el("label", {}, el("input", {type: "checkbox", id: "on-" + i, checked: !r.off, onchange: e => evidence(all => { all[i].off = !e.target.checked; })}), el("span", {}, nameOf(r), r.off ? " (left out)" : "")),
        el("button", {type: "button", class: "plain", id: "drop-" + i, "aria-label": "Remove " + nameOf(r), onclick: () => evidence(all => { all.splice(i, 1); })}, "Remove")),
      said && el("p", {class: "said"}, said),
      el("p", {class: "said did"}, did(i)));
    if (r.capture) {
      const with_ = r.with || [];
      with_.concat(adding === i ? [""] : []).forEach((c, k) => {
        const id = "with-" + i + "-" + k;
        li.append(el("div", {class: "holds"}, el("label", {for: id}, "with"),
          el("input", {id, value: c, autocomplete: "off", placeholder: "R2 || 47.2k ± 1 %", onchange: e => {
            adding = -1;
            evidence(all => { const w = [...(all[i].with || [])]; if (e.target.value.trim()) w[k] = e.target.value.trim(); else w.splice(k, 1); all[i].with = w; });
          }})));
      });
      const column = (r.channel || []).join(", ");
      li.append(el("details", {class: "holds", open: column !== "" || r.invert || wrong}, el("summary", {}, "How it was taken"),
        el("div", {class: "holds"},
          el("button", {type: "button", class: "plain", id: "add-" + i, onclick: () => { adding = i; showEvidence(); $("with-" + i + "-" + (r.with || []).length).focus(); }}, "Something special about it"),
          el("label", {for: "column-" + i}, "column of the output"),
          el("input", {id: "column-" + i, value: column, autocomplete: "off", placeholder: "name or number", onchange: e => evidence(all => {
            const v = e.target.value.split(",").map(s => s.trim()).filter(Boolean); all[i].channel = v.length ? v : undefined; })}),
          el("label", {}, el("input", {type: "checkbox", id: "invert-" + i, checked: !!r.invert, onchange: e => evidence(all => { all[i].invert = e.target.checked || undefined; })}), " high and low are swapped"))));
    }
    if (wrong) {
      li.append(el("p", {class: "wrong", role: "alert"}, fault.short));
      for (const c of fault.columns || []) {
        const b = el("button", {type: "button", class: "plain column", onclick: () => evidence(all => { all[i].channel = [String(c.number)]; })}, "Column " + c.number + (c.name ? ", " + c.name : "") + " is the output");
        const d = el("div", {});
        place(d, c.html);
        li.append(el("div", {class: "choice"}, el("p", {class: "said"}, c.text), d, b));
      }
    }
    list.append(li);
  });
  if (!history.now.evidence.length) list.append(el("li", {}, "None yet."));
  back();
}

// typed remembers which field of a place has the focus and what is half typed there, for when the place has been made anew.
function typed(where) {
  const e = document.activeElement;
  if (!e || !e.id || !where.contains(e)) return () => {};
  const {id, value, type} = e;
  return () => {
    const now = $(id);
    if (!now) return;
    now.focus();
    if (type === "text") now.value = value;
  };
}

// did says what an evidence did to the cause that leads now.
function did(i) {
  const stages = on(), at = stages.findIndex(s => s.row === i), left = trail.find(s => s.off && s.row === i);
  const leader = stages.length && stages[stages.length - 1].causes[0];
  if (!leader) return "";
  const of = s => { const c = s.causes.find(c => c.name === leader.name); return c ? c.text : "< 0.1 %"; };
  if (left) return "If it counted: " + leader.name + " " + of(stages[stages.length - 1]) + " → " + of(left) + (left.causes[0].name === leader.name ? "" : "; likeliest then " + left.causes[0].name + ", " + left.causes[0].text);
  return at < 1 ? "" : leader.name + ": " + of(stages[at - 1]) + " → " + of(stages[at]);
}

// take sends captures and adds them; as is what holds of each.
// instead says that they are of the board as it is after a repair, so that nothing earlier counts.
async function take(files, as, instead) {
  for (const f of files) {
    const bar = el("progress", {max: "1", value: 0, "aria-label": "Sending " + f.name});
    const note = el("span", {}, f.name);
    const line = el("div", {}, note, bar);
    const [done, stop] = send(f, (now, total) => { bar.max = total || 1; bar.value = now; });
    line.append(el("button", {type: "button", class: "plain", onclick: stop}, "Stop"));
    $("coming").append(line);
    try {
      const got = await done;
      evidence(all => { if (instead) for (const r of all) r.off = true; all.push({capture: inFolder(got.name, got.sha256, all), file: got.id, ...as}); });
    } catch (e) {
      if (e.name !== "AbortError") failed(e);
    }
    line.remove();
  }
}

// ---- the lot

let judging = null; // what is being asked about it
let judged = "";    // the state that was asked about last
let lotCommand = "";

async function askLot() {
  const lot = history.now.lot;
  $("lot").hidden = !lot;
  const key = lot ? JSON.stringify([history.now.design, lot]) : "";
  if (key === judged) return;
  judged = key;
  if (judging) judging.abort();
  if (!lot) return;
  const mine = judging = new AbortController();
  const stop = el("button", {type: "button", class: "plain", onclick: () => { judged = ""; mine.abort(); }}, "Stop");
  const bar = el("progress", {max: "1", value: 0, "aria-label": "Boards of the lot that are done"});
  $("lot-coming").replaceChildren(bar, stop);
  $("lot-fault").textContent = "";
  $("lot-size").value = lot.size || "";
  $("lot-aql").value = lot.aql || "";
  try {
    const a = await solve(history.now, mine.signal, m => { bar.max = m.total; bar.value = m.done; $("lot-state").textContent = m.done + " of " + m.total + " boards"; }, "lot");
    if (mine !== judging) return;
    $("lot-state").textContent = "";
    place($("lot-finding"), a.finding);
    drawLot(a, $("lot-picture"), $("lot-boards"), open);
    place($("lot-answer"), a.sections.filter(s => s.id !== "boards").map(s => s.html).join(""));
    lotCommand = a.command;
    showTools();
  } catch (e) {
    if (mine !== judging) return;
    $("lot-state").textContent = "";
    if (e.name === "AbortError") $("lot-fault").textContent = "Stopped. Change the lot or a value of the board, and it is judged again.";
    else if (e instanceof Lost) { judged = ""; failed(e); } else $("lot-fault").textContent = e.fault ? e.fault.message : String(e);
  } finally { if (mine === judging) $("lot-coming").replaceChildren(); }
}

// open makes a board of the lot the one that is worked on.
function open(board) {
  go({evidence: board.evidence, declined: [], board: board.name});
  $("finding").tabIndex = -1;
  $("finding").focus();
  $("finding").scrollIntoView();
}

// takeLot sends the files of a lot, each [file, path].
async function takeLot(files) {
  if (!files.length) return;
  const bar = el("progress", {max: files.length, value: 0, "aria-label": "Sending the files of the lot"});
  let stopped = () => {}, on = true;
  $("coming").append(bar, el("button", {type: "button", class: "plain", onclick: () => { on = false; stopped(); }}, "Stop"));
  const lot = [];
  try {
    for (const [f, path] of files) {
      const [done, stop] = send(f, () => {});
      stopped = stop;
      lot.push({file: (await done).id, path});
      bar.value = lot.length;
      if (!on) return;
    }
    go({lot: {...history.now.lot, files: lot}});
    $("lot").focus();
  } catch (e) { if (e.name !== "AbortError") failed(e); } finally { $("coming").replaceChildren(); }
}

// within lists the files of a dropped folder, with their paths.
async function within(entry, path) {
  if (entry.isFile) return [[await new Promise((ok, no) => entry.file(ok, no)), path + entry.name]];
  const reader = entry.createReader(), out = [];
  for (;;) { // a reader gives a hundred at a time
    const some = await new Promise((ok, no) => reader.readEntries(ok, no));
    if (!some.length) return out;
    for (const e of some) out.push(...await within(e, path + entry.name + "/"));
  }
}

// ---- what is heard

let hearing = null;

function showHeard(h) {
  hearing = h;
  $("live").hidden = !h;
  if (!h) return;
  const now = h.why ? h.why : h.ended ? "The stream has ended." : h.gone ? "The port is away; it is waited for." : "";
  $("live-text").textContent = "Heard at " + h.source + ": " + (h.text ? h.text + " in the last seconds." : "nothing yet.") + " " + now + " Since " + h.since + " it is kept.";
}

// listen looks each second how what is heard stands.
async function listen() {
  try { showHeard(await ask("heard", {})); } catch (e) { failed(e); if (away) return; }
  if (hearing) setTimeout(listen, 1000);
}

// takeHeard makes evidence of what has been heard, under the conditions as; keep false: it is forgotten.
async function takeHeard(keep, as, instead) {
  try {
    const got = await ask("take", {keep});
    if (keep) evidence(all => { if (instead) for (const r of all) r.off = true; all.push({capture: inFolder(got.name, got.sha256, all), file: got.id, ...as}); });
    showHeard(await ask("heard", {}));
  } catch (e) { failed(e); }
}

// inFolder is a name that no other capture of the evidence has.
function inFolder(wanted, sha, all) {
  const base = begin.prefix + wanted;
  if (!all.some(r => r.capture === base)) return base;
  const dot = wanted.indexOf(".") < 0 ? wanted.length : wanted.indexOf(".");
  for (let n = 2; ; n++) {
    const next = begin.prefix + wanted.slice(0, dot) + "-" + n + wanted.slice(dot);
    if (!all.some(r => r.capture === next)) return next;
  }
}

// ---- the answer

let running = null;

async function askAnswer() {
  if (running) running.abort();
  const mine = running = new AbortController();
  fault = null;
  stale();
  if (!history.now.evidence.some(r => r.capture && !r.off)) {
    answer = null;
    trail = [];
    showAnswer();
    return;
  }
  $("state").textContent = "working…";
  $("stop").hidden = false;
  try {
    const a = await solve(history.now, mine.signal, m => {
      $("state").textContent = "reading " + m.reading + (m.total > 0 ? ", " + Math.round(100 * m.read / m.total) + " %" : "");
    });
    if (mine !== running) return;
    answer = a;
    trail = [];
    $("trouble").replaceChildren();
    showAnswer();
    trail = await ask("trail", history.now, mine.signal);
    if (mine === running) { showTrail(); showEvidence(); }
  } catch (e) {
    if (e.name === "AbortError" || mine !== running) return;
    if (e instanceof Lost) { failed(e); $("state").textContent = ""; return; }
    fault = e.fault || {short: String(e), message: String(e), row: -1};
    showAnswer();
  } finally { if (mine === running || !running) $("stop").hidden = true; }
}

// halt stops the work on an answer; what was answered before stays, and is marked as old.
function halt() {
  running.abort();
  running = null;
  $("state").textContent = "stopped: change something, and it is answered anew";
}

// stale marks the answer as one to an earlier state.
function stale() { $("finding").classList.add("old"); $("answer").setAttribute("aria-busy", "true"); }

function showAnswer() {
  $("answer").removeAttribute("aria-busy");
  showTools();
  if (fault) {
    $("finding").classList.add("old");
    if (fault.row < 0) $("trouble").textContent = fault.message;
  } else {
    $("finding").classList.remove("old");
    if (answer) place($("finding"), answer.finding); else $("finding").replaceChildren();
    const parts = answer ? answer.sections.filter(s => s.id !== "next" && s.id !== "board") : [];
    place($("answer"), parts.map(s => s.html).join(""));
    const drawn = answer && answer.sections.find(s => s.id === "board");
    if (drawn) place($("schematic"), drawn.html); else if (board.schematic) place($("schematic"), board.schematic);
  }
  showTrail();
  showEvidence();
  showNext();
  $("line").hidden = !answer || !!fault;
  if (answer) {
    $("command").textContent = answer.command;
    $("line-note").textContent = answer.unsaved ? "Once this is saved, this command gives the same answer:" : "This command gives the same answer:";
  }
}

// on are the stages of what counts.
const on = () => trail.filter(s => !s.off);

function showTrail() {
  const trail = on();
  if (trail.length < 2) { $("trail").replaceChildren(); return; }
  const last = trail[trail.length - 1].causes.filter(c => c.probability >= 0.01).slice(0, 4);
  const row = s => el("tr", {}, el("th", {scope: "row"}, s.row < 0 ? "before any reading" : nameOf(history.now.evidence[s.row] || {})),
    ...last.map(l => { const c = s.causes.find(c => c.name === l.name); return el("td", {class: "n"}, c ? c.text : "–"); }));
  $("trail").replaceChildren(el("section", {"aria-labelledby": "trail-h"}, el("h2", {id: "trail-h"}, "How the probabilities went"),
    el("div", {class: "scroll", role: "group", tabindex: "0", "aria-label": "Probability of each cause, one evidence a row"},
      el("table", {}, el("thead", {}, el("tr", {}, el("th", {scope: "col"}, "with"), ...last.map(c => el("th", {scope: "col", class: "n"}, c.name)))), el("tbody", {}, ...trail.map(row))))));
}

// ---- what to do next

// decline says which readings can't be taken. It changes no answer, so that none is asked for.
function decline(readings) {
  if (!history.step({...history.now, declined: readings})) return;
  showTools();
  showNext();
}

function showNext() {
  const card = $("next-card");
  const back = typed(card), half = card.reading && $("next-value") ? $("next-value").value : "";
  if (history.now.design.trim() === "") { card.replaceChildren(el("p", {class: "what"}, "Choose the circuit, or start offbeat bench with a design file.")); return; }
  if (board.fault) { card.replaceChildren(el("p", {class: "what"}, "Put the board’s values right: "), el("p", {}, board.fault.short)); return; }
  if (fault) { card.replaceChildren(el("p", {class: "what"}, fault.row >= 0 ? "Put this evidence right, or leave it out:" : "This can’t be answered:"), el("p", {}, fault.message)); return; }
  if (!answer) { card.replaceChildren(el("p", {class: "what"}, "Capture some ten cycles of the output and drop the file here.")); return; }
  const left = answer.next.filter(n => !history.now.declined.includes(n.reading));
  const n = left[0];
  const undecline = history.now.declined.length > 0 && el("button", {type: "button", class: "plain", onclick: () => decline([])}, "Show what I could not take");
  if (!n) {
    card.replaceChildren(el("p", {class: "what"}, answer.next.length ? "No reading is left that you can take." : "No reading would tell much more."), el("p", {}, answer.after), undecline || "");
    return;
  }
  const value = el("input", {id: "next-value", autocomplete: "off", placeholder: n.direct ? "what the meter shows, ± its accuracy" : "what it measures, ± the meter’s accuracy", "aria-describedby": "next-fault"});
  if (card.reading === n.reading) value.value = half;
  card.reading = n.reading;
  const pick = el("input", {type: "file", id: "next-pick", "aria-label": "The new capture"});
  const wrong = el("p", {class: "wrong", id: "next-fault", role: "alert"});
  const needs = n.condition && n.condition.includes(MEASURED);
  const condition = () => {
    if (!n.condition) return {};
    if (needs && !value.value.trim()) { wrong.textContent = "Type first what the part measures; then the capture."; value.focus(); return null; }
    return {with: [n.condition.replace(MEASURED, value.value.trim())]};
  };
  const check = n.kind === "check", repair = n.kind === "repair" || n.kind === "refit";
  card.takes = files => { const as = condition(); if (as) take(files, as, check); pick.value = ""; };
  pick.addEventListener("change", () => card.takes([...pick.files]));
  const form = el("form", {onsubmit: e => {
    e.preventDefault();
    if (!n.direct) return;
    if (!value.value.trim()) { wrong.textContent = "Type what the meter shows."; return; }
    evidence(all => { all.push({reading: n.direct + " = " + value.value.trim()}); });
  }},
  (n.direct || needs) && el("div", {class: "field"}, el("label", {for: "next-value"}, n.direct || "its value"), value, n.direct && el("button", {}, "Enter")),
  check && el("p", {}, "The board is another one now: what was read before the repair will be left out."),
  hearing && !n.direct && !n.look && !repair && el("div", {class: "row"}, el("button", {type: "button", class: "plain", id: "next-anew", onclick: () => takeHeard(false)}, "It is done: hear it anew"),
    el("button", {type: "button", id: "next-heard", onclick: () => { const as = condition(); if (as) takeHeard(true, as, check); }}, "Take what is heard")),
  n.look && el("div", {class: "row"}, ...n.outcomes.map(o => el("button", {type: "button", class: "plain", "data-outcome": o, onclick: () => evidence(all => { all.push({look: n.look.replace(SEEN, o)}); })}, o))),
  n.condition && el("div", {class: "row"}, el("button", {type: "button", class: "plain", id: "next-still", onclick: () => { const as = condition(); if (as) evidence(all => { all.push({capture: "no pulse in 60 s", ...as}); }); }}, "No pulse comes in 60 s")),
  !n.direct && !n.look && !repair && el("div", {class: "drop"}, el("label", {for: "next-pick"}, "Drop the new capture here, or choose it"), pick), wrong);
  card.replaceChildren(n.caution ? el("p", {class: "caution"}, n.caution) : "", el("p", {class: "what"}, n.reading + " (" + Math.max(1, Math.ceil(n.minutes - 0.1)) + " min)."), form,
    ...(n.means && n.means.length ? [el("ul", {class: "means"}, ...n.means.map(m => el("li", {}, m)))] : []),
    el("div", {class: "row"}, el("button", {type: "button", class: "plain", id: "decline", onclick: () => decline([...history.now.declined, n.reading])}, repair ? "It is done" : "I can’t take that one"), undecline || ""),
    left.length > 1 ? el("div", {class: "others"}, "Else:", el("ul", {}, ...left.slice(1).map(m => el("li", {}, m.reading)))) : "");
  back();
}

// ---- all of the work

const heads = new CSSStyleSheet(); // what stands at the head of each printed page but the first
document.adoptedStyleSheets = [heads];

function showTools() {
  $("undo").disabled = !history.canUndo;
  $("redo").disabled = !history.canRedo;
  let title = (answer && answer.title) || (board.fields || []).filter(f => f.key === "title").map(f => f.value)[0] || "Bench";
  if (history.now.board) title += ", " + history.now.board;
  $("title").textContent = title;
  document.title = (history.unsaved ? "• " : "") + title + ", bench";
  heads.replaceSync(`@page { @top-left { content: ${JSON.stringify(title)}; } @top-right { content: "offbeat, bench"; } } @page :first { @top-left { content: none; } @top-right { content: none; } }`);
  $("state").textContent = history.unsaved ? "not saved" : chosen ? "saved as " + name : "";
  $("report").disabled = !answer || !!fault;
  $("lot-line").replaceChildren(...(lotCommand ? [(history.unsaved ? "Once this is saved, this command says the same of the lot: " : "This command says the same of the lot: "), el("code", {}, lotCommand)] : []));
}

function undo() { if (history.undo()) refresh(); }
function redo() { if (history.redo()) refresh(); }

async function save(over) {
  try {
    const done = await ask("save", {state: history.now, name, over});
    chosen = true;
    history.saved({...done.state, evidence: done.state.evidence || [], declined: history.now.declined, lot: history.now.lot});
    if (history.now.lot) lotCommand = done.command;
    $("save-as").close();
    refresh();
    $("state").textContent = "saved: " + done.written.join(", ");
  } catch (e) {
    if (e instanceof Lost) { $("save-as").close(); failed(e); return; }
    $("save-fault").textContent = e.fault ? e.fault.message : String(e);
    $("save-over").hidden = e.status !== 409;
    if (!$("save-as").open) openSave();
  }
}

function openSave() {
  $("save-name").value = name;
  $("save-where").textContent = "It goes into " + begin.folder + ", and captures that were dropped here go beside it.";
  $("save-as").showModal();
}

function askSave() {
  $("save-fault").textContent = "";
  $("save-over").hidden = true;
  if (chosen) save(false); else openSave();
}

async function report() {
  try {
    const url = URL.createObjectURL(await file("report", history.now));
    const a = el("a", {href: url, download: name.replace(/\.toml$/, "") + ".html"});
    a.click();
    setTimeout(() => URL.revokeObjectURL(url), 60000);
  } catch (e) { failed(e); }
}

async function copy(text) {
  try { await navigator.clipboard.writeText(text); $("state").textContent = "copied"; } catch { $("state").textContent = "the browser did not let it be copied"; }
}

function larger() {
  const on = document.documentElement.classList.toggle("large");
  $("larger").setAttribute("aria-pressed", on);
}

function keys() {
  $("keys").hidden = !$("keys").hidden;
  $("help").setAttribute("aria-expanded", !$("keys").hidden);
}

const letters = {t: () => $("lot").focus(), l: larger, "?": keys, n: () => $("next").focus(), b: () => $("board").focus(), e: () => $("evidence").focus()};

document.addEventListener("keydown", e => {
  const t = e.target, writes = t.matches("input:not([type=checkbox]):not([type=file]), textarea, select");
  const k = e.key.toLowerCase();
  if ((e.ctrlKey || e.metaKey) && k === "s") { e.preventDefault(); t.blur(); askSave(); return; }
  if ((e.ctrlKey || e.metaKey) && (k === "z" || k === "y")) {
    if (writes && "was" in t.dataset && t.value !== t.dataset.was) return; // of what is being typed
    e.preventDefault();
    if (k === "y" || e.shiftKey) redo(); else undo();
    return;
  }
  if (!writes && !e.ctrlKey && !e.metaKey && !e.altKey && letters[k] && !$("save-as").open) { e.preventDefault(); letters[k](); }
});

addEventListener("beforeunload", e => { if (history.unsaved) e.preventDefault(); });
addEventListener("dragover", e => { e.preventDefault(); document.body.classList.add("over"); });
addEventListener("dragleave", () => document.body.classList.remove("over"));
addEventListener("drop", e => {
  e.preventDefault();
  document.body.classList.remove("over");
  const files = [...e.dataTransfer.files];
  if (!files.length) return;
  const entries = [...e.dataTransfer.items].map(i => i.webkitGetAsEntry && i.webkitGetAsEntry()).filter(Boolean);
  if (e.target.closest("#many, #lot") || entries.some(e => e.isDirectory)) {
    Promise.all(entries.map(e => within(e, ""))).then(all => takeLot(all.flat())).catch(failed);
    return;
  }
  if (e.target.closest("#next") && $("next-card").takes) $("next-card").takes(files); else take(files, {});
});

$("stop").addEventListener("click", halt);
$("undo").addEventListener("click", undo);
$("redo").addEventListener("click", redo);
$("save").addEventListener("click", askSave);
$("report").addEventListener("click", report);
$("larger").addEventListener("click", larger);
$("help").addEventListener("click", keys);
$("copy").addEventListener("click", () => copy($("command").textContent));
$("live-take").addEventListener("click", () => takeHeard(true, {}));
$("live-anew").addEventListener("click", () => takeHeard(false));
$("pick").addEventListener("change", e => { take([...e.target.files], {}); e.target.value = ""; });
for (const id of ["lot-folder", "lot-files"]) $(id).addEventListener("change", e => { takeLot([...e.target.files].map(f => [f, f.webkitRelativePath || f.name])); e.target.value = ""; });
$("lot-drop").addEventListener("click", () => go({lot: undefined}));
for (const [id, key, what] of [["lot-size", "size", "a number of boards, such as 500"], ["lot-aql", "aql", "a percentage, such as 1"]]) $(id).addEventListener("change", e => {
  const v = e.target.value.trim() === "" ? undefined : Number(e.target.value.replace(",", "."));
  if (v !== undefined && !(v > 0 && (key === "aql" || Number.isInteger(v)))) { $("lot-fault").textContent = e.target.value + "; expected " + what; return; }
  go({lot: {...history.now.lot, [key]: v}});
});
$("text").addEventListener("change", e => go({design: e.target.value}));
$("values").addEventListener("submit", e => e.preventDefault());
$("save-form").addEventListener("submit", e => { e.preventDefault(); name = $("save-name").value.trim(); save(false); });
$("save-over").addEventListener("click", () => { name = $("save-name").value.trim(); save(true); });
$("save-stop").addEventListener("click", () => $("save-as").close());
$("add-reading").addEventListener("submit", e => {
  e.preventDefault();
  const v = $("reading").value.trim();
  const [what, ...value] = v.split("=");
  if (!what.trim() || v.includes("=") && !value.join("=").trim()) { $("reading-fault").textContent = "Expected what was read and its value, such as R2 = 46.93k ± 0.3 %, or what was seen, such as marking R2 wrong or no pulse in 60 s."; return; }
  $("reading-fault").textContent = "";
  $("reading").value = "";
  evidence(all => { all.push(v.includes("=") ? {reading: v} : /^no pulses? in/i.test(v) ? {capture: v} : {look: v}); });
});

try {
  begin = await ask("start", {});
  name = begin.name;
  chosen = begin.saved || begin.state.design !== "";
  showHeard(begin.heard);
  if (begin.heard) setTimeout(listen, 1000);
  history = new History({design: begin.state.design, evidence: begin.state.evidence || [], declined: [], lot: begin.state.lot || undefined}, begin.saved);
  refresh();
} catch (e) { failed(e); }
