package chart

// Script lets a reader point at the curves of a page, and look closer: without it a page shows the same. It asks
// nothing of anybody and keeps nothing. It is inside a CDATA section, so that a page is well-formed as XML too.
const Script = `/*<![CDATA[*/
(() => {
"use strict";
const none = 0 / 0; // no number
const round = (x, step) => {
  const digits = Math.max(0, Math.min(6, Math.ceil(-Math.log10(step))));
  return x.toFixed(digits).replace("-", "\u2212");
};
// points reads a path of ours: M x y, then l with steps from point to point.
const points = d => {
  const n = (d.match(/-?[0-9.]+/g) || []).map(Number), out = [];
  for (let i = 0, x = 0, y = 0; i + 1 < n.length; i += 2) { x += n[i]; y += n[i + 1]; out.push([x, y]); }
  return out;
};
const at = (pts, x) => {
  if (!pts.length || x < pts[0][0] - 0.5 || x > pts[pts.length - 1][0] + 0.5) return none;
  let i = 0, j = pts.length - 1;
  while (j - i > 1) { const m = (i + j) >> 1; if (pts[m][0] <= x) i = m; else j = m; }
  const w = pts[j][0] - pts[i][0];
  return w > 0 ? pts[i][1] + (pts[j][1] - pts[i][1]) * Math.min(1, Math.max(0, (x - pts[i][0]) / w)) : pts[j][1];
};
const niceStep = x => { const p = 10 ** Math.floor(Math.log10(x)); return [1, 2, 5, 10].find(f => f * p >= x * 0.999) * p; };
const prepare = svg => {
  const [times, ...rest] = svg.dataset.plot.split("|");
  const [from, until, zero, left, right] = times.split(" ").map(Number);
  const axes = rest.map(a => { const w = a.split(" "); return { top: +w[0], bottom: +w[1], low: +w[2], high: +w[3], name: w.slice(4).join(" "), curves: [] }; });
  const figure = svg.closest("figure"), says = {};
  for (const i of figure ? figure.querySelectorAll(".legend i") : []) says[i.getAttribute("class")] = i.parentNode.textContent.trim();
  const shapes = [];
  for (const p of svg.querySelectorAll("path, rect, text")) {
    const d = p.getAttribute("d"), box = p.tagName === "rect", of = p.getAttribute("class") || p.parentNode.getAttribute("class");
    if (d && d.includes("H")) continue; // lines across the picture stay
    if (p.tagName === "path" && d.includes("l")) {
      const pts = points(d), y = pts.length > 1 ? (pts[0][1] + pts[pts.length - 1][1]) / 2 : 0;
      const a = axes.find(a => pts.every(q => q[1] >= a.top - 5 && q[1] <= a.bottom + 5));
      if (a) a.curves.push({ name: says[p.getAttribute("class")] || "", pts });
      shapes.push({ p, pts });
    } else if (p.tagName === "path") {
      shapes.push({ p, stems: d.split("M").filter(s => s).map(s => { const w = s.split("V"), q = w[0].split(" "); return [+q[0], +q[1], +w[1]]; }) });
    } else if (box && !p.closest("a")) {
      shapes.push({ p, x: +p.getAttribute("x"), wide: +p.getAttribute("width") });
    } else if (p.tagName === "text" && /\b(mid|name|when|said)\b/.test(of)) {
      shapes.push({ p, of, label: +p.getAttribute("x"), tick: /\bmid\b/.test(of), y: p.getAttribute("y") });
    }
  }
  const events = (svg.dataset.events || "").split(";").filter(e => e).map(e => [+e.split(" ")[0], e.slice(e.indexOf(" ") + 1)]);
  return { svg, events, from, until, zero, left, right, axes, shapes, a: from, b: until };
};
const start = svg => {
  const s = prepare(svg), width = s.right - s.left;
  const X = t => s.left + (t - s.a) / (s.b - s.a) * width, X0 = t => s.left + (t - s.from) / (s.until - s.from) * width;
  const T = x => s.a + (x - s.left) / width * (s.b - s.a), T0 = x => s.from + (x - s.left) / width * (s.until - s.from);
  const map = x => X(T0(x)), inside = x => x >= s.left - 0.5 && x <= s.right + 0.5;
  const line = document.createElementNS(svg.namespaceURI, "line");
  line.setAttribute("class", "cursor"); line.setAttribute("visibility", "hidden");
  svg.append(line);
  const out = document.createElement("div");
  out.className = "reading";
  svg.after(out);
  const words = document.createElement("span");
  const hint = "Point at the curves, or use the arrow keys, for their values; + and \u2212 look closer at that time.";
  words.textContent = hint;
  let now = none;
  const button = (text, label, does) => {
    const b = document.createElement("button");
    b.type = "button"; b.textContent = text; b.setAttribute("aria-label", label); b.addEventListener("click", does);
    out.append(b);
  };
  const read = x => {
    x = Math.min(s.right, Math.max(s.left, x));
    now = T(x);
    for (const [k, v] of [["x1", x], ["x2", x], ["y1", s.axes[0].top], ["y2", svg.viewBox.baseVal.height - 20], ["visibility", "visible"]]) line.setAttribute(k, v);
    const step = (s.b - s.a) / width / 2;
    let text = "run " + round(now, step) + " s, launch " + (now < s.zero ? "" : "+") + round(now - s.zero, step) + " s";
    for (const [t, name] of s.events) if (Math.abs(X(t) - x) < 4) text += "; " + name + " " + t + " s";
    for (const a of s.axes) for (const c of a.curves) {
      const y = at(c.pts, X0(now));
      if (!Number.isFinite(y)) continue;
      const value = a.high - (y - a.top) / (a.bottom - a.top) * (a.high - a.low);
      text += "; " + (c.name ? c.name + " " : "") + a.name.replace(/, .*$/, "") + " " + round(value, (a.high - a.low) / (a.bottom - a.top) / 5) + a.name.replace(/^[^,]*,?/, "");
    }
    words.textContent = text;
  };
  const grid = () => {
    const step = niceStep((s.b - s.a) / Math.max((svg.viewBox.baseVal.width - s.left) / 90, 3)), times = [];
    for (let k = Math.ceil(s.a / step); k * step <= s.b; k++) times.push(k * step);
    return times;
  };
  const show = () => {
    const whole = s.a === s.from && s.b === s.until;
    for (const h of s.shapes) {
      if (h.pts) {
        let d = "";
        for (let i = 0; i < h.pts.length; i++) {
          const x = map(h.pts[i][0]);
          if (inside(x)) { d += (d ? "L" : "M") + x.toFixed(1) + " " + h.pts[i][1].toFixed(1); continue; }
          const edge = x < s.left ? s.left : s.right, next = x < s.left ? i + 1 : i - 1;
          if (next < 0 || next >= h.pts.length || (x < s.left ? map(h.pts[next][0]) < s.left : map(h.pts[next][0]) > s.right)) continue;
          d += (d ? "L" : "M") + edge + " " + at(h.pts, X0(T(edge))).toFixed(1);
        }
        h.p.setAttribute("d", d || "M0 0");
      } else if (h.stems) {
        const isGrid = h.p.classList.contains("grid");
        const stems = isGrid && h.stems.length && !whole ? grid().map(t => [X(t), h.stems[0][1], h.stems[0][2]]) : h.stems.map(q => [map(q[0]), q[1], q[2]]);
        h.p.setAttribute("d", stems.filter(q => inside(q[0])).map(q => "M" + q[0].toFixed(1) + " " + q[1] + "V" + q[2]).join("") || "M0 0");
      } else if (h.wide !== undefined) {
        const l = Math.max(s.left, map(h.x)), r = Math.min(s.right, map(h.x + h.wide));
        h.p.setAttribute("x", l); h.p.setAttribute("width", Math.max(0, r - l));
      } else if (!h.tick) {
        const x = map(h.label);
        h.p.setAttribute("x", x); h.p.setAttribute("visibility", inside(x) ? "visible" : "hidden");
      } else h.p.setAttribute("visibility", whole ? "visible" : "hidden");
    }
    for (const t of svg.querySelectorAll(".closer")) t.remove();
    if (!whole) for (const t of grid()) {
      const step = (s.b - s.a) / 20;
      for (const h of new Map(s.shapes.filter(h => h.tick).map(h => [h.y, h])).values()) {
        const text = document.createElementNS(svg.namespaceURI, "text"), second = /\bclock\b/.test(h.of);
        text.setAttribute("class", h.of + " closer"); text.setAttribute("x", X(t)); text.setAttribute("y", h.y);
        text.textContent = round(second ? t - s.zero : t, step / 5) + " s";
        if (X(t) > s.left + 4) svg.append(text);
      }
    }
    if (Number.isFinite(now)) read(X(now));
  };
  const zoom = by => {
    const middle = !Number.isFinite(now) ? (s.a + s.b) / 2 : now, whole = s.until - s.from;
    const span = Math.min(whole, Math.max(whole / 64, (s.b - s.a) * by));
    s.a = Math.max(s.from, Math.min(middle - span * (middle - s.a) / (s.b - s.a), s.until - span));
    s.b = s.a + span;
    if (span > whole * 0.999) { s.a = s.from; s.b = s.until; }
    show();
  };
  button("+", "look closer", () => zoom(0.5));
  button("\u2212", "look from further away", () => zoom(2));
  out.append(words);
  const place = e => (e.clientX - svg.getBoundingClientRect().left) * svg.viewBox.baseVal.width / svg.getBoundingClientRect().width;
  svg.addEventListener("pointermove", e => read(place(e)));
  svg.addEventListener("pointerdown", e => read(place(e)));
  words.setAttribute("role", "status");
  svg.addEventListener("keydown", e => {
    const x = Number.isFinite(now) ? X(now) : (s.left + s.right) / 2, step = e.shiftKey ? 20 : 2;
    const does = {
      ArrowLeft: () => read(x - step), ArrowRight: () => read(x + step), Home: () => read(s.left), End: () => read(s.right),
      "+": () => zoom(0.5), "=": () => zoom(0.5), "-": () => zoom(2),
    }[e.key];
    if (!does || e.ctrlKey || e.altKey || e.metaKey) return;
    e.preventDefault();
    does();
  });
};
// Pictures are prepared when they come near the screen: a long page opens at once. Those that passed, among many, are
// even read only then, or before all is printed; where scripts don't run a browser reads them as any others.
const near = (does, margin) => {
  const o = new IntersectionObserver(list => { for (const e of list) if (e.isIntersecting) { o.unobserve(e.target); does(e.target); } }, { rootMargin: margin });
  return o;
};
const seen = near(start, "200px");
const watch = where => { for (const svg of where.querySelectorAll("svg[data-plot]")) { svg.tabIndex = 0; seen.observe(svg); } };
const unfold = section => {
  for (const n of section.querySelectorAll("noscript.later")) {
    const t = document.createElement("template");
    t.innerHTML = n.textContent;
    const added = [...t.content.children];
    n.replaceWith(t.content);
    added.forEach(watch);
  }
};
const later = near(unfold, "1000px");
for (const n of document.querySelectorAll("noscript.later")) later.observe(n.parentNode);
addEventListener("beforeprint", () => unfold(document));
watch(document);
})();
/*]]>*/
`
