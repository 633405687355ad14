"use strict";
// The page shows what the server has drawn: each event brings the parts of the page that have changed.
const show = parts => {
  for (const [id, html] of Object.entries(parts)) {
    const place = document.getElementById(id);
    if (place) place.innerHTML = html;
  }
};

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
