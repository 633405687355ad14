// The boards of a lot: a picture and a table, each of which opens a board.

const SVG = "http://www.w3.org/2000/svg";

function make(tag, attrs, ...children) {
  const e = tag === "svg" || attrs.svg ? document.createElementNS(SVG, tag) : document.createElement(tag);
  for (const [k, v] of Object.entries(attrs)) if (k.startsWith("on")) e.addEventListener(k.slice(2), v); else if (k !== "svg") e.setAttribute(k, v);
  e.append(...children);
  return e;
}

// drawLot shows what a lot says; open hears which board is to be opened.
export function drawLot(lot, picture, table, open) {
  picture.replaceChildren(strip(lot, open));
  let by = -1, down = false; // as the manifest has them
  const draw = () => {
    const boards = lot.boards.map((b, i) => [b, i]);
    if (by >= 0) boards.sort(([a, i], [b, j]) => compare(a.cells[by], b.cells[by]) * (down ? -1 : 1) || i - j);
    const head = lot.columns.map((c, k) => make("th", {scope: "col", class: lot.boards.some(b => b.cells[k].sort !== undefined) ? "n" : "", "aria-sort": k !== by ? "none" : down ? "descending" : "ascending"},
      make("button", {type: "button", class: "plain sort", "data-column": k, onclick: () => { down = by === k && !down; by = k; draw(); table.querySelector("[data-column='" + k + "']").focus(); }},
        c + (k !== by ? "" : down ? " ↓" : " ↑"))));
    const rows = boards.map(([b]) => make("tr", {}, ...b.cells.map((c, k) => k === 0
      ? make("th", {scope: "row"}, make("button", {type: "button", class: "plain board", onclick: () => open(b)}, c.text))
      : make("td", c.sort === undefined ? {} : {class: "n"}, c.text))));
    table.replaceChildren(make("table", {}, make("thead", {}, make("tr", {}, ...head)), make("tbody", {}, ...rows)));
  };
  draw();
}

// compare sorts numbers before texts, and what is empty last.
function compare(a, b) {
  if (a.sort !== undefined && b.sort !== undefined) return a.sort - b.sort;
  if ((a.sort === undefined) !== (b.sort === undefined)) return a.sort === undefined ? 1 : -1;
  return a.text.localeCompare(b.text, undefined, {numeric: true});
}

// strip draws the boards in order: a dot passes, a cross fails, a ring is undecided. The table says the same to who does not
// see it, and opens the same boards by keyboard.
function strip(lot, open) {
  const some = lot.boards.map((b, i) => [b, i]).filter(([b]) => b.value !== null);
  if (some.length < 2) return "";
  const all = some.map(([b]) => b.value).concat(lot.limits || []);
  const low = Math.min(...all), high = Math.max(...all), room = (high - low || 1) * 0.08;
  const x = i => 12 + 776 * i / Math.max(1, lot.boards.length - 1), y = v => 150 - 140 * (v - low + room) / (high - low + 2 * room);
  const svg = make("svg", {viewBox: "0 0 800 160", role: "img", "aria-label": "The boards in order by " + lot.quantity + "; the table below has the same"});
  for (const v of lot.limits || []) svg.append(make("line", {svg: 1, class: "limit", x1: 0, x2: 800, y1: y(v), y2: y(v)}));
  for (const [b, i] of some) {
    const cx = x(i), cy = y(b.value), r = 5;
    const shape = b.verdict === "fail" ? make("path", {svg: 1, class: "cross", d: `M${cx - r} ${cy - r}l${2 * r} ${2 * r}M${cx - r} ${cy + r}l${2 * r} ${-2 * r}`})
      : make("circle", {svg: 1, class: b.verdict === "undecided" ? "ring" : "dot", cx, cy, r});
    const g = make("g", {svg: 1, class: "point", "data-board": b.name, onclick: () => open(b)}, make("circle", {svg: 1, class: "touch", cx, cy, r: 14}), shape, make("title", {svg: 1}, b.cells.map(c => c.text).join(", ")));
    svg.append(g);
  }
  const caption = make("figcaption", {}, "The boards in order, by " + lot.quantity + ": a dot passes, a cross fails, a ring is undecided" + (lot.limits ? "; the lines are the target’s limits" : "") + ". Press a point to open its board.");
  return make("figure", {}, svg, caption);
}
