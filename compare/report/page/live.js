"use strict";
// The page shows what the server has drawn: each event brings the parts of the page that have changed.
// Styles come as data, since the page's policy takes none in its markup.
const style = place => place.querySelectorAll("[data-style]").forEach(e => { e.style.cssText = e.dataset.style; });
style(document);

const heads = new CSSStyleSheet(); // what stands at the head of each printed page but the first
heads.replaceSync(`@page { @top-left { content: ${JSON.stringify(document.querySelector("h1").textContent)}; } @top-right { content: "offbeat, live"; } } @page :first { @top-left { content: none; } @top-right { content: none; } }`);
document.adoptedStyleSheets = [heads];

// What is selected stays as it is until it is let go; what has the focus keeps it.
const waiting = new Map();
const selected = place => {
  const s = getSelection();
  return !s.isCollapsed && s.rangeCount > 0 && s.getRangeAt(0).intersectsNode(place);
};
const put = (id, html) => {
  const place = document.getElementById(id);
  if (!place) return;
  if (selected(place)) {
    waiting.set(id, html);
    return;
  }
  waiting.delete(id);
  const held = [...place.querySelectorAll("[tabindex]")];
  const at = held.indexOf(document.activeElement), left = held.map(e => e.scrollLeft);
  place.innerHTML = html;
  style(place);
  place.querySelectorAll("[tabindex]").forEach((e, i) => {
    e.scrollLeft = left[i] ?? 0;
    if (i === at) e.focus({ preventScroll: true });
  });
};
const show = parts => Object.entries(parts).forEach(([id, html]) => put(id, html));
document.addEventListener("selectionchange", () => [...waiting].forEach(([id, html]) => put(id, html)));

const events = new EventSource("events");
events.addEventListener("show", e => show(JSON.parse(e.data)));
events.onerror = () => {
  if (events.readyState === EventSource.CLOSED || events.readyState === EventSource.CONNECTING) {
    const state = document.querySelector("#state .state");
    if (state) {
      state.textContent = "offbeat no longer answers; what is shown is the last it said.";
      state.classList.add("gone");
    }
  }
};

const form = document.getElementById("mark");
const note = document.getElementById("mark-note");
form.addEventListener("submit", async e => {
  e.preventDefault();
  note.textContent = "";
  try {
    const answer = await fetch("mark", { method: "POST", body: new URLSearchParams(new FormData(form)) });
    if (!answer.ok) throw new Error(await answer.text());
    form.reset();
  } catch (err) {
    note.textContent = "The mark was not set: " + err.message;
  }
  form.elements.text.focus();
});
