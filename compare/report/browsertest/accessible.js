const coloured = ["color-contrast", "link-in-text-block", "css-orientation-lock", "no-autoplay-audio"];
// Of rows of a table that are alike but for their words the first two stand for all, unless what holds them scrolls: then its width counts.
const scrolls = e => e && (/auto|scroll/.test(getComputedStyle(e).overflow) && (e.scrollWidth > e.clientWidth || e.scrollHeight > e.clientHeight) || scrolls(e.parentElement));
const again = [...document.querySelectorAll("table")].filter(t => !scrolls(t)).flatMap(t => {
  const met = {};
  return [...t.rows].filter(r => { const form = r.outerHTML.replace(/>[^<]*[^<\s][^<]*/g, ">x"); return (met[form] = (met[form] ?? 0) + 1) > 2; });
}).map(r => { const at = [r, r.parentNode, r.nextSibling]; r.remove(); return at; });
// What the other rules can see of a page: what is in it, what of it is shown or lies outside, and what scrolls.
const seen = document.documentElement.outerHTML + [...document.querySelectorAll("body, body :not(svg *)")].map(e => {
  const s = getComputedStyle(e), q = e.getBoundingClientRect();
  return [s.display == "none", s.visibility, s.clip, s.clipPath, q.width > 0, q.height > 0, q.right > 0 && q.left < innerWidth, q.bottom + scrollY > 0,
    /auto|scroll/.test(s.overflow) && (e.scrollWidth > e.clientWidth || e.scrollHeight > e.clientHeight), e.value, e.checked, e.disabled].join();
}).join(";");
const found = [];
const violations = async (context, runOnly, rules) => found.push(...(await axe.run(context, {resultTypes: ["violations"], preload: colours, runOnly, rules})).violations);
const off = colours ? coloured.slice(0, 1) : coloured;
if (window.checked != seen) await violations(document, ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"], Object.fromEntries(off.map(r => [r, {enabled: false}])));
else if (colours) await violations(document, coloured.slice(1));
window.checked = seen;
if (colours) {
  const ends = new Map(); // by looks, the first and the last text
  for (const e of document.querySelectorAll("body :not(svg, svg *)")) {
    if (!e.getClientRects().length || !e.matches("input, select, textarea") && ![...e.childNodes].some(n => n.nodeType == 3 && n.data.trim())) continue;
    const s = getComputedStyle(e), key = [s.color, s.fontSize, s.fontWeight, s.textShadow, s.position];
    for (let p = e; p; p = p.parentElement) { const t = getComputedStyle(p); key.push(t.backgroundColor, t.backgroundImage, t.opacity); }
    const alike = key.filter(x => x != "rgba(0, 0, 0, 0)" && x != "none" && x != "1").join();
    ends.set(alike, [ends.has(alike) ? ends.get(alike)[0] : e, e]);
  }
  const texts = [...new Set([...ends].flatMap(([looks, at]) => judged.has(looks) ? [] : at))];
  for (const looks of ends.keys()) judged.add(looks);
  if (texts.length) await violations({include: texts}, coloured.slice(0, 1));
}
again.reverse().forEach(([r, parent, before]) => parent.insertBefore(r, before));
redraw();
return {looks: [...judged], wrong: found.flatMap(v => v.nodes.slice(0, 3).map(n => v.id + ": " + n.html.slice(0, 160) + " " + n.failureSummary.replace(/\s+/g, " ").slice(0, 240)))};
