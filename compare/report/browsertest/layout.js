const out = [];
const rects = new Map(); // nothing moves while they are looked at
const r = e => { if (!rects.has(e)) rects.set(e, e.getBoundingClientRect()); return rects.get(e); };
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
return out;
