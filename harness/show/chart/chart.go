// Package chart draws curves and spans against time as SVG: axes with round steps, curves of no more points
// than can be seen, marks, boxes. All text that it is given comes out as text. It knows nothing of flights,
// logs or verdicts, and never reads a file or a clock.
package chart

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Chart is a picture with one axis of time. Its sizes are in units that are about pixels.
type Chart struct {
	Width, Height float64
	From, Until   float64 // s
	b             strings.Builder
	axes          []axis
	zero          float64 // s, of the second clock
	links         bool    // something in it leads elsewhere
	unnamed       []Mark  // drawn without a name; a reader who points at one is told it
}

// axis is an upright axis whose values a reader can ask for by pointing.
type axis struct {
	Top, Bottom, Low, High float64
	Name                   string
}

// The room beside what is drawn: Left for the numbers of upright axes, Foot for those of the axis of time.
const (
	Left  = 52
	Right = 10
	Head  = 8
	Foot  = 22
	// FootClocks is Foot with a second clock below the first.
	FootClocks = 35
)

// New begins a picture of a span of time in seconds, which must not be empty.
func New(width, height, from, until float64) *Chart {
	return &Chart{Width: width, Height: height, From: from, Until: until}
}

// X is the place of a time.
func (c *Chart) X(t float64) float64 {
	return Left + (t-c.From)/(c.Until-c.From)*(c.Width-Left-Right)
}

// step is the time from one line of the axis to the next.
func (c *Chart) step() float64 { return roundStep((c.Until - c.From) / max((c.Width-Left)/90, 3)) }

// anchors are the classes that say which place of a text is given.
var anchors = map[string]string{"middle": " mid", "end": " end"}

// Text writes a text at a place; anchor is start, middle or end.
func (c *Chart) Text(class string, x, y float64, anchor, text string) {
	fmt.Fprintf(&c.b, `<text class="%s" x="%s" y="%s">%s</text>`, class+anchors[anchor], place(x), place(y), escape(text))
}

// place writes a coordinate to a tenth of a unit, as short as it can be.
func place(x float64) string {
	return strings.TrimSuffix(fmt.Sprintf("%.1f", x), ".0")
}

// SVG gives the picture; what says, for those who can't see it, what it shows. If it has axes that can be read, the
// script of a page finds them in it.
func (c *Chart) SVG(class, what string) string {
	plot := ""
	if len(c.axes) > 0 {
		plot = fmt.Sprintf(` data-plot="%s %s %s %d %.0f`, exact(c.From), exact(c.Until), exact(c.zero), Left, c.Width-Right)
		for _, a := range c.axes {
			plot += fmt.Sprintf("|%.1f %.1f %s %s %s", a.Top, a.Bottom, exact(a.Low), exact(a.High), escape(strings.ReplaceAll(a.Name, "|", "/")))
		}
		plot += `"`
		var events []string
		for _, m := range c.unnamed {
			events = append(events, strconv.FormatFloat(math.Round(m.At*1e3)/1e3, 'f', -1, 64)+" "+strings.ReplaceAll(m.Name, ";", ","))
		}
		if len(events) > 0 {
			plot += ` data-events="` + escape(strings.Join(events, ";")) + `"`
		}
	}
	role := "img"
	if c.links { // what an img holds can't be reached
		role = "group"
	}
	return fmt.Sprintf(`<svg class="%s" viewBox="0 0 %.0f %.0f" role="%s" aria-label="%s"%s>%s</svg>`, class, c.Width, c.Height, role, escape(what), plot, c.b.String())
}

// exact writes a number with all digits that a picture needs.
func exact(x float64) string { return strconv.FormatFloat(x, 'g', 9, 64) }

var escape = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&#34;", "'", "&#39;", "\x00", "\ufffd").Replace

// roundStep gives 1, 2 or 5 times a power of ten that is at least x.
func roundStep(x float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(x)))
	for _, f := range []float64{1, 2, 5} {
		if f*p >= x*0.999 {
			return f * p
		}
	}
	return 10 * p
}

func number(x float64) string {
	s := fmt.Sprintf("%.6g", x)
	return strings.Replace(s, "-", "\u2212", 1)
}
