package browsertest

// LayoutFaults lists what is wrong with the page as it is laid out: all the checks that need a real layout.
const LayoutFaults = `
const out = [];
const r = e => e.getBoundingClientRect();
const meet = (a, b, s) => a.left < b.right - s && b.left < a.right - s && a.top < b.bottom - s && b.top < a.bottom - s;
if (document.documentElement.scrollWidth > innerWidth) out.push("the page is " + document.documentElement.scrollWidth + " px wide on a screen of " + innerWidth);
const figures = [...document.querySelectorAll("figure")];
const pictures = [...document.querySelectorAll("svg.picture")];
if (pictures.length == 0) out.push("no pictures");
if (pictures.length != figures.length) out.push("pictures outside figures");
figures.forEach((f, i) => figures.slice(i + 1).forEach(g => { if (meet(r(f), r(g), 1)) out.push("figures overlap: " + f.innerText.slice(0, 30) + " / " + g.innerText.slice(0, 30)); }));
for (const f of figures) {
  const caption = f.querySelector("figcaption"); // the live page says once for all what its pictures are
  if (caption ? caption.innerText.length < 40 : !document.body.classList.contains("live")) out.push("caption says too little");
  for (const t of document.querySelectorAll("table, ul, h2, .finding")) if (meet(r(f), r(t), 1)) out.push("text over a figure: " + t.innerText.slice(0, 30));
}
for (const p of pictures) {
  const name = p.querySelector("title").textContent, b = r(p);
  if (b.width < 200 || b.height < 60) out.push(name + ": drawn " + b.width + " by " + b.height);
  if (p.querySelector("desc").textContent.length < 40) out.push(name + ": no description");
  const drawn = [...p.querySelectorAll("path, line, rect, circle")].filter(e => { const q = e.getBBox(), s = getComputedStyle(e); return (q.width > 0 || q.height > 0) && (s.stroke != "none" || s.fill != "none"); });
  if (drawn.length < 2) out.push(name + ": only " + drawn.length + " things drawn");
  const texts = [...p.querySelectorAll("text")];
  const scale = b.width / p.viewBox.baseVal.width;
  texts.forEach((t, i) => {
    const q = r(t), size = parseFloat(getComputedStyle(t).fontSize) * scale;
    if (size < 10) out.push(name + ": text of " + size.toFixed(1) + " px: " + t.textContent);
    if (q.left < b.left - 1 || q.right > b.right + 1 || q.top < b.top - 2 || q.bottom > b.bottom + 2) out.push(name + ": text leaves the picture: " + t.textContent);
    texts.slice(i + 1).forEach(u => { if (meet(q, r(u), 1.5)) out.push(name + ": texts overlap: " + t.textContent + " / " + u.textContent); });
  });
}
for (const e of document.querySelectorAll(".scroll")) if (e.scrollWidth > e.clientWidth + 1) out.push("a table of " + e.scrollWidth + " px on a screen of " + innerWidth + ": " + e.innerText.slice(0, 40).replace(/\s+/g, " "));
for (const e of document.querySelectorAll("p, li, td, th, figcaption, caption")) if (parseFloat(getComputedStyle(e).fontSize) < 12) out.push("small text: " + e.innerText.slice(0, 30));
return out;`

// Contrast lists texts, those in pictures too, that stand out less from what they stand on than WCAG 2.1 asks (1.4.3: 4.5 to 1,
// or 3 to 1 where they are large); what is hidden or can't be used now is left out, as there.
const Contrast = `
const lum = c => { const v = c.slice(0, 3).map(x => { x /= 255; return x <= 0.03928 ? x / 12.92 : Math.pow((x + 0.055) / 1.055, 2.4); }); return 0.2126 * v[0] + 0.7152 * v[1] + 0.0722 * v[2]; };
const rgba = c => { const v = c.match(/[\d.]+/g).map(Number); return v.length < 4 ? [...v, 1] : v; };
const over = (a, b) => a.slice(0, 3).map((x, i) => a[3] * x + (1 - a[3]) * b[i]);
const grounds = new Map();
const ground = e => { if (!e) return [255, 255, 255]; if (!grounds.has(e)) { const c = rgba(getComputedStyle(e).backgroundColor); grounds.set(e, c[3] == 1 ? c : over(c, ground(e.parentElement))); } return grounds.get(e); };
const out = new Set();
for (const e of document.body.querySelectorAll("*")) {
  const field = e.matches("input:not([type=checkbox]):not([type=file]), textarea, select");
  if (!field && ![...e.childNodes].some(n => n.nodeType == 3 && n.data.trim()) || e.matches(".probetext, .skip, option, title, desc, :disabled") || !e.getClientRects().length) continue; // the number of a reading stands on a disc
  const s = getComputedStyle(e);
  if (s.visibility == "hidden" || s.clipPath != "none" || e.closest("[hidden], :disabled")) continue;
  const g = ground(e.ownerSVGElement ? e.ownerSVGElement.parentElement : e), c = over(rgba(s[e.ownerSVGElement ? "fill" : "color"]), g);
  const a = lum(c), b = lum(g), size = parseFloat(s.fontSize), ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
  if (ratio < (size >= 24 || size >= 18.66 && s.fontWeight >= 700 ? 3 : 4.5)) out.add(ratio.toFixed(2) + " " + e.tagName + " " + s.color + " " + (e.textContent || e.value).trim().slice(0, 30));
}
return [...out];`
