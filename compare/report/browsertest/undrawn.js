const redraw = (taken => () => taken.reverse().forEach(([e, parent, before]) => parent.insertBefore(e, before)))([...document.querySelectorAll("svg :is(path, line, rect, circle, polyline, polygon, text, tspan)")].filter(
  e => !e.matches(":is([role], [id], [href], [tabindex], [contenteditable]), :has(title, [role], [id], [href], [tabindex])") && ![...e.attributes].some(a => a.name.startsWith("aria-"))
).map(e => { const at = [e, e.parentNode, e.nextSibling]; e.remove(); return at; }));
