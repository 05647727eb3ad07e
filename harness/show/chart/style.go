package chart

import "strings"

// Style is the style sheet of a page that holds charts: light, dark and on paper, wide and narrow. A page adds
// what it has beyond that. Charts of class broad and slim are shown where there is room for the one or the other; a broad one of class alone is always shown.
const Style = `:root { --paper: #fbfaf7; --card: #ffffff; --ink: #22262b; --soft: #6b7178; --line: #e4e1da; }
@media screen and (prefers-color-scheme: dark) { :root { --paper: #16181b; --card: #1d2024; --ink: #e6e4df; --soft: #9aa0a6; --line: #33373c; } }
* { box-sizing: border-box; }
html { -webkit-print-color-adjust: exact; print-color-adjust: exact; }
body { margin: 0; background: var(--paper); color: var(--ink); font: 16px/1.5 system-ui, sans-serif; }
main { max-width: 1020px; margin: 0 auto; padding: 2.2rem 1.2rem 4rem; }
h1 { font-size: 1.55rem; font-weight: 600; margin: 0 0 .2rem; overflow-wrap: anywhere; }
h2 { font-size: 1.08rem; font-weight: 600; margin: 2.6rem 0 .8rem; }
p { margin: .3rem 0; max-width: 44rem; }
.soft, figcaption, .legend, th { color: var(--soft); font-size: .875rem; }
.facts { display: flex; flex-wrap: wrap; gap: .4rem 2.4rem; margin: 1.4rem 0 0; padding: 0; list-style: none; }
.facts b { display: block; font-size: 1.35rem; font-weight: 600; font-variant-numeric: tabular-nums; }
figure { margin: 1.2rem 0 0; background: var(--card); border: 1px solid var(--line); border-radius: 6px; padding: .7rem .6rem .5rem; }
figcaption { display: flex; flex-wrap: wrap; justify-content: space-between; gap: .2rem 1.2rem; padding: 0 .4rem .3rem; }
.legend span { margin-left: 1rem; white-space: nowrap; }
.legend i { display: inline-block; width: 1.3rem; height: 0; border-top: 2px solid; vertical-align: middle; margin-right: .35rem; }
svg { display: block; width: 100%; height: auto; }
svg.slim { display: none; }
@media screen and (max-width: 620px) { svg.broad:not(.alone) { display: none; } svg.slim { display: block; } svg.alone { width: 720px; } figure { overflow-x: auto; } main { padding: 1.4rem .8rem 3rem; } }
svg text { font: 11px system-ui, sans-serif; fill: var(--soft); }
.grid { stroke: var(--line); stroke-width: 1; } .zero { stroke: var(--soft); stroke-width: 1; opacity: .6; }
path { fill: none; stroke-linejoin: round; }
.moment { stroke: var(--soft); stroke-width: 1; stroke-dasharray: 2 3; opacity: .8; }
svg text.name { font-size: 10px; } svg text.clock, svg .clock text { font-size: 10px; }
svg .mid { text-anchor: middle; } svg .end { text-anchor: end; }
.scroll { overflow-x: auto; }
svg[data-plot] { touch-action: pan-y; cursor: crosshair; }
.cursor { stroke: var(--ink); stroke-width: 1; pointer-events: none; } circle.cursor { fill: var(--card); }
.reading { min-height: 1.6em; padding: .15rem .4rem 0; font-size: .82rem; font-variant-numeric: tabular-nums; color: var(--ink); overflow-wrap: anywhere; }
.reading button { font: inherit; color: inherit; background: var(--card); border: 1px solid var(--soft); border-radius: 4px; min-width: 2rem; min-height: 1.6rem; margin: 0 .35rem 0 0; cursor: pointer; }
@media print { .reading { display: none; } }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; }
@media print { body { background: none; } main { max-width: none; padding: 0; } figure, article, tr { break-inside: avoid; } h2, h3 { break-after: avoid; } }
`

// Typeset gives a text of ours with the signs that a page has and a terminal may lack.
var Typeset = strings.NewReplacer("+-", "\u00b1", "m/s2", "m/s\u00b2", "m/s3", "m/s\u00b3", "rad/s2", "rad/s\u00b2", " -", " \u2212").Replace
