(() => {
"use strict";
const $ = id => document.getElementById(id), query = location.search;
const say = text => { $("state").textContent = text; };
let scene = null, samples = [], needs = new Map(), edges = [], on = [], dirty = false, over = false;
const item = (list, text, cls) => {
  const li = document.createElement("li");
  if (cls) { const b = document.createElement("b"); b.className = cls; b.textContent = cls + " "; li.append(b); }
  li.append(text);
  $(list).prepend(li);
  while ($(list).childNodes.length > 60) $(list).lastChild.remove();
  return li;
};
const pairs = (id, list) => $(id).replaceChildren(...list.flatMap(([k, v]) => {
  const dt = document.createElement("dt"), dd = document.createElement("dd");
  dt.textContent = k; dd.textContent = v;
  return [dt, dd];
}));
const take = {
  scene(s) {
    scene = s; samples = []; needs = new Map(); edges = []; on = s.Outputs.map(() => -1);
    $("name").textContent = s.N + " of " + s.Of + ": " + s.Name;
    $("log").replaceChildren();
    $("legend").replaceChildren(...s.Stages.map((name, i) => { const x = document.createElement("span"); const i2 = document.createElement("i"); i2.style.borderColor = "var(--" + ["one", "two", "three", "four"][i % 4] + ")"; x.append(i2, name); return x; }));
    say("flying");
  },
  sample(x) { samples.push(x); if (samples.length > 6000) samples = samples.filter((_, i) => i % 2); },
  event(e) { item("log", e.T.toFixed(3) + " s: " + e.Name); },
  need(n, m) { needs.set(m.id, n); },
  edge(e) {
    if (e.On) on[e.Output] = e.T;
    else if (on[e.Output] >= 0) { edges.push([e.Output, on[e.Output], e.T]); on[e.Output] = -1; }
    const wrong = e.On && [...needs.values()].some(n => n.Never && n.Output === e.Output && e.T >= n.From && e.T <= n.To);
    item("log", e.T.toFixed(3) + " s: " + scene.Outputs[e.Output] + (e.On ? " on" : " off") + (wrong ? ", where it must be dark" : ""), wrong ? "fail" : "");
  },
  verdict(v) {
    const li = item("verdicts", v.Name, v.Answer), bad = v.Findings.filter(f => f.Answer !== "pass");
    if (bad.length) {
      const ul = document.createElement("ul");
      for (const f of bad.slice(0, 8)) { const x = document.createElement("li"), b = document.createElement("b"); b.className = f.Answer; b.textContent = f.Answer + " "; x.append(b, f.Text + ": " + f.Why); ul.append(x); }
      li.append(ul);
    }
  },
  end() { over = true; source.close(); $("stop").disabled = true; say("the run is over"); },
};
const source = new EventSource("events" + query);
source.onmessage = m => {
  const x = JSON.parse(m.data);
  for (const k in x) if (take[k]) take[k](x[k], x);
  dirty = true;
};
source.onerror = () => { if (!over) { over = true; source.close(); $("stop").disabled = true; say("the program has ended, or can't be reached"); } };
$("stop").addEventListener("click", async () => {
  $("stop").disabled = true;
  say("stopping");
  try {
    const r = await fetch("stop" + query, { method: "POST" });
    say(r.ok ? "stopped: outputs are made safe" : "not stopped: " + await r.text());
    if (!r.ok) $("stop").disabled = false;
  } catch (e) { say("the program can't be reached; switch the supply off"); }
});
const canvas = (id, tall) => {
  const c = $(id), wide = c.clientWidth || 600, k = devicePixelRatio || 1;
  if (tall) c.style.height = tall + "px";
  const h = tall || c.clientHeight;
  c.width = wide * k; c.height = h * k;
  const g = c.getContext("2d");
  g.setTransform(k, 0, 0, k, 0, 0);
  g.font = "11px system-ui, sans-serif";
  return [g, wide, h];
};
const draw = () => {
  requestAnimationFrame(draw);
  if (!dirty || !scene) return;
  dirty = false;
  const style = getComputedStyle(document.documentElement), color = n => style.getPropertyValue("--" + n).trim();
  const last = samples[samples.length - 1], until = Math.max(10, last ? last.T * 1.05 : 0), left = 48;
  const [g, wide, tall] = canvas("height"), X = t => left + t / until * (wide - left - 8);
  let top = 10;
  for (const s of samples) for (const h of s.Heights) top = Math.max(top, h * 1.05);
  const Y = h => tall - 20 - h / top * (tall - 30);
  g.fillStyle = color("soft"); g.strokeStyle = color("line");
  for (let i = 0; i <= 4; i++) {
    const h = top * i / 4, t = until * i / 4;
    g.beginPath(); g.moveTo(left, Y(h)); g.lineTo(wide - 8, Y(h)); g.stroke();
    g.textAlign = "right"; g.fillText(h.toFixed(0), left - 6, Y(h) + 4);
    g.textAlign = i < 4 ? "center" : "right"; g.fillText(t.toFixed(1) + " s", i < 4 ? X(t) : wide - 4, tall - 4);
  }
  const curve = (of, stroke, dash) => {
    g.strokeStyle = stroke; g.lineWidth = 1.8; g.setLineDash(dash); g.beginPath();
    samples.forEach((s, i) => { const y = of(s); if (y !== undefined) g[i ? "lineTo" : "moveTo"](X(s.T), Y(Math.max(0, y))); });
    g.stroke(); g.setLineDash([]); g.lineWidth = 1;
  };
  scene.Stages.forEach((_, i) => curve(s => s.Heights[i], color(["one", "two", "three", "four"][i % 4]), []));
  scene.Boards.forEach((_, i) => curve(s => s.Told[i] && s.Told[i].Reports ? s.Told[i].Height : undefined, color("soft"), [2, 3]));
  const row = 34, [o, w2] = canvas("outputs", row * scene.Outputs.length + 6), X2 = t => 8 + Math.min(1, Math.max(0, t / until)) * (w2 - 16);
  scene.Outputs.forEach((name, i) => {
    const y = row * i + 4;
    o.fillStyle = color("ink"); o.fillText(name, 8, y + 10);
    o.strokeStyle = color("line"); o.strokeRect(8, y + 14, w2 - 16, 14);
    for (const n of needs.values()) if (n.Output === i) { o.fillStyle = color(n.Never ? "dark" : "must"); o.fillRect(X2(n.From), y + 15, Math.max(1.5, X2(n.To) - X2(n.From)), 12); }
    o.fillStyle = color("one");
    for (const [k, a, b] of edges) if (k === i) o.fillRect(X2(a), y + 18, Math.max(1.5, X2(b) - X2(a)), 6);
    if (on[i] >= 0 && last) o.fillRect(X2(on[i]), y + 18, Math.max(1.5, X2(last.T) - X2(on[i])), 6);
  });
  if (last) {
    pairs("now", [["run", last.T.toFixed(2) + " s"], ["launch", (last.T >= scene.Launch ? "+" : "\u2212") + Math.abs(last.T - scene.Launch).toFixed(2) + " s"],
      ...scene.Stages.map((n, i) => [n, last.Heights[i].toFixed(1) + " m"]), ["speed", last.Speed.toFixed(1) + " m/s"], ["frame late", last.Late.toFixed(2) + " ms"]]);
    pairs("boards", scene.Boards.map((n, i) => { const b = last.Told[i] || {}; return [n, (b.Reports ? b.Phase + ", " + b.Height.toFixed(1) + " m" : "no report yet") + "; " + (b.Boots || 0) + " handshakes, " + (b.Bad || 0) + " corrupt and " + (b.Lost || 0) + " lost frames"]; }));
  }
};
requestAnimationFrame(draw);
})();
