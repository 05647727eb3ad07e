package chart

import (
	"fmt"
	"io"
	"strings"
)

// fileStyle is the part of Style that a picture of its own needs: light and dark.
const fileStyle = `:root { --card: #ffffff; --ink: #22262b; --soft: #6b7178; --line: #e4e1da; --one: #1f3f66; --two: #b8651b; --three: #2b8a78; --four: #8a4d79; }
@media (prefers-color-scheme: dark) { :root { --card: #1d2024; --ink: #e6e4df; --soft: #9aa0a6; --line: #33373c; --one: #a9c8ef; --two: #e8a15c; --three: #5cc2ad; --four: #d29bc1; } }
text { font: 11px system-ui, sans-serif; fill: var(--soft); }
text.name { font-size: 10px; } .mid { text-anchor: middle; } .end { text-anchor: end; } text.title { font-size: 16px; fill: var(--ink); } text.caption { fill: var(--ink); paint-order: stroke; stroke: var(--card); stroke-width: 3.5px; stroke-linejoin: round; }
rect.card { fill: var(--card); }
.grid { stroke: var(--line); stroke-width: 1; } .zero { stroke: var(--soft); stroke-width: 1; opacity: .6; }
path { fill: none; stroke-linejoin: round; } .moment { stroke: var(--soft); stroke-width: 1; stroke-dasharray: 2 3; opacity: .55; }
path.one { stroke: var(--one); stroke-width: 1.6; } path.two { stroke: var(--two); stroke-width: 2; stroke-dasharray: 7 3; } path.three { stroke: var(--three); stroke-width: 2; stroke-dasharray: 2 3; } path.four { stroke: var(--four); stroke-width: 2; stroke-dasharray: 9 3 2 3; }
`

// StageClass is the class of a stage's curves, the top stage first. Their dashes differ as well as their colours.
func StageClass(stage int) string { return [...]string{"one", "two", "three", "four"}[stage%4] }

// Key is what a line of some class stands for.
type Key struct{ Class, Text string }

// File writes charts below each other as one SVG file, under a title and a legend.
func File(w io.Writer, title string, keys []Key, charts ...*Chart) error {
	const head, letter = 44.0, 6.5
	width, height := 0.0, head
	for _, c := range charts {
		width, height = max(width, c.Width), height+c.Height
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %.0f %.0f" width="%.0f" height="%.0f" role="img" aria-label="%s"><style>%s</style><rect class="card" width="100%%" height="100%%"/><text class="title" x="%d" y="28">%s</text>`,
		width, height, width, height, escape(title), fileStyle, Left, escape(title))
	x := width - Right
	for i := len(keys) - 1; i >= 0; i-- {
		x -= letter * float64(len([]rune(keys[i].Text)))
		fmt.Fprintf(&b, `<text class="key" x="%.1f" y="28">%s</text><path class="%s" d="M%.1f 24h26"/>`, x, escape(keys[i].Text), keys[i].Class, x-32)
		x -= 54
	}
	y := head
	for _, c := range charts {
		fmt.Fprintf(&b, `<svg y="%.0f" width="%.0f" height="%.0f">%s</svg>`, y, c.Width, c.Height, c.b.String())
		y += c.Height
	}
	b.WriteString("</svg>\n")
	_, err := io.WriteString(w, b.String())
	return err
}
