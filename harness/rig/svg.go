package rig

import (
	"fmt"
	"html"
	"io"
	"strings"

	"drystage/harness"
)

// The sizes of the drawing, in its own units.
const (
	rowHeight  = 34
	leftWidth  = 150
	wayWidth   = 460
	rightWidth = 330
	margin     = 24
	headHeight = 74
)

// inTheDark gives the drawing other colours on a dark screen: a style goes before attributes.
const inTheDark = `<style>@media (prefers-color-scheme: dark) { text { fill: #e6e4df; } text[fill="#555555"] { fill: #a8adb3; } text[fill="#7a3f00"] { fill: #ffcf8a; }
rect[fill="#ffffff"] { fill: #16181b; } rect[fill="#f3f6f9"] { fill: #23282f; } rect[fill="#fff4e0"] { fill: #33270f; } [stroke="#33475b"] { stroke: #7f95ab; }
[stroke="#1f6f8b"] { stroke: #6cc0dc; } [fill="#1f6f8b"] { fill: #6cc0dc; } [stroke="#8b2f1f"] { stroke: #f0917f; } [fill="#8b2f1f"] { fill: #f0917f; } }</style>
`

// WriteSVG draws the wiring as SVG, with the cautions.
func WriteSVG(w io.Writer, spec *harness.Rig) error {
	var b strings.Builder
	wires := Wires(spec)
	wide := 2*margin + leftWidth + wayWidth + rightWidth
	label(&b, margin, 34, `font-size="18" font-weight="bold"`, "Rig: "+spec.Name)
	what := "pins of this computer"
	if spec.Simulated {
		what = "simulated, no hardware"
	}
	label(&b, margin, 56, `fill="#555555"`, what)
	y := headHeight
	for i := 0; i < len(wires); {
		n := i
		for n < len(wires) && wires[n].Board == wires[i].Board {
			n++
		}
		y = group(&b, wires[i:n], y)
		i = n
	}
	y += 20
	fmt.Fprintf(&b, `<rect x="%d" y="%d" width="%d" height="%d" fill="#fff4e0" stroke="#b35c00"/>`+"\n", margin, y, wide-2*margin, len(Cautions)*20+14)
	for i, c := range Cautions {
		label(&b, margin+10, y+22+20*i, `fill="#7a3f00"`, c)
	}
	high := y + len(Cautions)*20 + 14 + margin
	_, err := fmt.Fprintf(w, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" width="%d" height="%d" font-family="sans-serif" font-size="13">`+
		"\n"+inTheDark+`<rect width="%d" height="%d" fill="#ffffff"/>`+"\n%s</svg>\n", wide, high, wide, high, wide, high, b.String())
	return err
}

// group draws the wires of one board below y, and gives the y below them.
func group(b *strings.Builder, wires []Wire, y int) int {
	right := margin + leftWidth + wayWidth
	label(b, margin, y+22, `font-weight="bold"`, "this computer")
	label(b, right, y+22, `font-weight="bold"`, "board "+wires[0].Board)
	y += rowHeight
	for _, x := range []struct{ at, wide int }{{margin, leftWidth}, {right, rightWidth}} {
		fmt.Fprintf(b, `<rect x="%d" y="%d" width="%d" height="%d" fill="#f3f6f9" stroke="#33475b"/>`+"\n", x.at, y, x.wide, rowHeight*len(wires))
	}
	for _, w := range wires {
		middle := y + rowHeight/2
		label(b, margin+12, middle+5, "", w.Pin)
		label(b, right+12, middle+5, "", endText(w))
		if w.Pin != "-" {
			wire(b, w, middle)
		}
		y += rowHeight
	}
	return y + margin/2
}

// wire draws one wire, its arrow, and what is between.
func wire(b *strings.Builder, w Wire, y int) {
	from, to := margin+leftWidth, margin+leftWidth+wayWidth
	color := "#1f6f8b"
	tip := fmt.Sprintf("%d,%d %d,%d %d,%d", from, y, from+9, y-5, from+9, y+5)
	if w.Out {
		color = "#8b2f1f"
		tip = fmt.Sprintf("%d,%d %d,%d %d,%d", to, y, to-9, y-5, to-9, y+5)
	}
	fmt.Fprintf(b, `<line x1="%d" y1="%d" x2="%d" y2="%d" stroke="%s" stroke-width="1.5"/><polygon points="%s" fill="%s"/>`+"\n", from, y, to, y, color, tip, color)
	text := []rune(w.Way)
	if len(text) > 56 {
		text = append(text[:55], '…')
	}
	half := len(text)*7/2 + 8
	middle := (from + to) / 2
	fmt.Fprintf(b, `<rect x="%d" y="%d" width="%d" height="20" fill="#ffffff" stroke="%s"/>`+"\n", middle-half, y-10, 2*half, color)
	label(b, middle, y+5, `text-anchor="middle" font-size="12"`, string(text))
}

func label(b *strings.Builder, x, y int, style, text string) {
	fmt.Fprintf(b, `<text x="%d" y="%d" %s>%s</text>`+"\n", x, y, style, html.EscapeString(text))
}
