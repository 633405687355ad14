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
return [...out];
