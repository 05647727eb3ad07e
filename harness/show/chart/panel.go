package chart

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Panel is a strip of a chart with an upright axis of its own.
type Panel struct {
	*Chart
	Top, Bottom float64   // in the chart
	Low, High   float64   // of the axis
	pins        []float64 // where their numbers are, across
}

// Panel makes a strip.
func (c *Chart) Panel(top, bottom float64) *Panel {
	return &Panel{Chart: c, Top: top, Bottom: bottom, High: 1}
}

// Y is the place of a value.
func (p *Panel) Y(x float64) float64 {
	return p.Top + (p.High-x)/(p.High-p.Low)*(p.Bottom-p.Top)
}

// Scale sets the range of the axis to what the lines need in the chart's time, and gives a round step.
func (p *Panel) Scale(lines []Line) (step float64) {
	low, high := math.Inf(1), math.Inf(-1)
	for _, l := range lines {
		for i, t := range l.T {
			if t >= p.From && t <= p.Until {
				low, high = min(low, l.X[i]), max(high, l.X[i])
			}
		}
	}
	if !(high > low) {
		low, high = low-1, low+1
	}
	if !(high > low && high-low < 1e300) { // nothing to draw, or numbers that can't be told apart
		low, high = 0, 1
	}
	p.Low, p.High = low-0.04*(high-low), high+0.06*(high-low)
	return roundStep((high - low) / 5)
}

// Grid draws both axes, and writes the times below the panel if asked to.
func (p *Panel) Grid(step float64, labelled bool) {
	p.HorizontalGrid(step)
	p.VerticalGrid(labelled)
}

// HorizontalGrid draws the lines of the upright axis.
func (p *Panel) HorizontalGrid(step float64) {
	var grid, zero, labels strings.Builder
	for _, x := range gridValues(p.Low, p.High, step) {
		y, to := p.Y(x), &grid
		if math.Abs(x) < step/1e6 {
			to, x = &zero, 0
		}
		fmt.Fprintf(to, "M%d %sH%.0f", Left, place(y), p.Width-Right)
		fmt.Fprintf(&labels, `<text x="%d" y="%s">%s</text>`, Left-6, place(y+4), number(x))
	}
	for _, l := range []struct {
		class string
		d     *strings.Builder
	}{{"grid", &grid}, {"zero", &zero}} {
		if l.d.Len() > 0 {
			fmt.Fprintf(&p.b, `<path class="%s" d="%s"/>`, l.class, l.d)
		}
	}
	p.group("tick end", &labels)
}

// group writes texts of one class.
func (c *Chart) group(class string, texts *strings.Builder) {
	if texts.Len() > 0 {
		fmt.Fprintf(&c.b, `<g class="%s">%s</g>`, class, texts)
	}
}

// VerticalGrid draws the lines of the axis of time, and writes the times below the panel if asked to.
func (p *Panel) VerticalGrid(labelled bool) {
	times := gridValues(p.From, p.Until, p.step())
	p.stems("grid", times)
	var labels strings.Builder
	for _, t := range times {
		if labelled {
			fmt.Fprintf(&labels, `<text x="%s" y="%.0f">%s s</text>`, place(p.X(t)), p.Bottom+Foot-6, number(t))
		}
	}
	p.group("tick mid", &labels)
}

// stems draws upright lines through the panel at times that are in the picture, as one path.
func (p *Panel) stems(class string, times []float64) {
	var d strings.Builder
	for _, t := range times {
		if t >= p.From && t <= p.Until {
			fmt.Fprintf(&d, "M%s %.0fV%.0f", place(p.X(t)), p.Top, p.Bottom)
		}
	}
	if d.Len() > 0 {
		fmt.Fprintf(&p.b, `<path class="%s" d="%s"/>`, class, &d)
	}
}

// Clocks names the two clocks of a run below a panel: the run's own, whose times are written already, and below it
// that of the launch, at a time of the first.
func (p *Panel) Clocks(launch float64) {
	p.zero = launch
	y := p.Bottom + FootClocks - 5
	p.Text("clock", 2, p.Bottom+Foot-6, "start", "run")
	p.Text("clock", 2, y, "start", "launch")
	var labels strings.Builder
	for _, t := range gridValues(p.From, p.Until, p.step()) {
		text := number(math.Round((t-launch)*1e4)/1e4+0) + " s"
		if x := p.X(t); x-3.2*float64(utf8.RuneCountInString(text)) > 38 {
			fmt.Fprintf(&labels, `<text x="%s" y="%s">%s</text>`, place(x), place(y), text)
		}
	}
	p.group("clock mid", &labels)
}

// Readable lets readers ask for the values of the panel's curves by pointing at them. It is called after Scale.
func (p *Panel) Readable(name string) {
	p.axes = append(p.axes, axis{p.Top, p.Bottom, p.Low, p.High, name})
}

// gridValues gives the multiples of a step from one number to another; few, even where the numbers are so large that
// they can't be told apart.
func gridValues(from, until, step float64) (xs []float64) {
	const most = 50
	for k := math.Ceil(from / step); k*step <= until && len(xs) < most; k++ {
		xs = append(xs, k*step)
	}
	return xs
}

// Mark draws an upright line at a time, with a text that is shown when the pointer is over it.
func (p *Panel) Mark(class string, t float64, text string) {
	if t >= p.From && t <= p.Until {
		fmt.Fprintf(&p.b, `<path class="%s" d="M%s %.0fV%.0f">%s</path>`, class, place(p.X(t)), p.Top, p.Bottom, title(text))
	}
}

// Moments draws the upright lines of marks, and tells those who point at one of the unnamed what it is.
func (p *Panel) Moments(named, unnamed []Mark) {
	var times []float64
	for _, m := range slices.Concat(named, unnamed) {
		times = append(times, m.At)
	}
	p.stems("moment", times)
	for _, m := range unnamed {
		if m.At >= p.From && m.At <= p.Until {
			p.unnamed = append(p.unnamed, m)
		}
	}
}

// Tracks draws the outlines of panels, as wide as the picture: the ground of strips.
func (c *Chart) Tracks(panels []*Panel) {
	var d strings.Builder
	for _, p := range panels {
		fmt.Fprintf(&d, "M%d %.0fH%.0fV%.0fH%dZ", Left, p.Top, p.Width-Right, p.Bottom, Left)
	}
	if d.Len() > 0 {
		fmt.Fprintf(&c.b, `<path class="track" d="%s"/>`, &d)
	}
}

// pinRadius is that of the circle around a pin's number.
const pinRadius = 8

// Pin shades a span, numbers it and links it to what is told of it. The numbers of spans side by side stand below each other.
func (p *Panel) Pin(class string, from, until float64, n int, href, text string) {
	from, until = max(from, p.From), min(until, p.Until)
	if from >= until {
		return
	}
	x, w := p.X(from), max(p.X(until)-p.X(from), 2.5)
	fmt.Fprintf(&p.b, `<a href="%s"><rect class="%s" x="%.1f" y="%.0f" width="%.1f" height="%.0f"><title>%s</title></rect>`, escape(href), class, x, p.Top, w, p.Bottom-p.Top, escape(text))
	middle, y := x+w/2, p.Top+pinRadius+1
	for _, other := range p.pins {
		if math.Abs(other-middle) < 2*pinRadius+2 {
			y += 2*pinRadius + 2
		}
	}
	p.pins, p.links = append(p.pins, middle), true
	y = min(y, p.Bottom-pinRadius)
	fmt.Fprintf(&p.b, `<circle class="pin" cx="%.1f" cy="%.0f" r="%d"/><text class="pinned" x="%.1f" y="%.0f" text-anchor="middle">%d</text></a>`, middle, y, pinRadius, middle, y+4, n)
}

// Box draws a span as high as the panel but for an inset, at least as wide as can be seen, and gives its
// place; drawn is false when none of it lies in the chart's time.
func (p *Panel) Box(class string, from, until, inset float64, text string) (left, right float64, drawn bool) {
	from, until = max(from, p.From), min(until, p.Until)
	if !(from <= until) {
		return 0, 0, false
	}
	const least = 1.5
	left, right = p.X(from), p.X(until)
	right = max(right, left+least)
	fmt.Fprintf(&p.b, `<rect class="%s" x="%s" y="%.0f" width="%s" height="%.0f"`, class, place(left), p.Top+inset, place(right-left), p.Bottom-p.Top-2*inset)
	if text == "" {
		p.b.WriteString("/>")
	} else {
		p.b.WriteString(">" + title(text) + "</rect>")
	}
	return left, right, true
}

// title is the text shown when the pointer is over something; empty: none.
func title(text string) string {
	if text == "" {
		return ""
	}
	return "<title>" + escape(text) + "</title>"
}

// Draw draws lines, with no more points than can be seen: of each step of half a unit the least, the greatest
// and the last; and the first, to which a line leads from further away.
func (p *Panel) Draw(lines ...Line) {
	for _, l := range lines {
		d := pen{cell: math.MinInt, last: math.MinInt}
		for i, t := range l.T {
			if t < p.From || t > p.Until || math.IsNaN(l.X[i]) {
				continue
			}
			d.to(int(2*(p.X(t)-Left)), min(max(p.Y(l.X[i]), p.Top-4), p.Bottom+4))
		}
		d.flush()
		if d.path.Len() > 0 {
			fmt.Fprintf(&p.b, `<path class="%s" d="%s"/>`, l.Class, d.path.String())
		}
	}
}

// pen draws a path in steps of half a unit.
type pen struct {
	path             strings.Builder
	cell, last       int // the step it is in, the one before that has points
	n                int // points in this step
	low, high        float64
	first, untilHere float64
	x, y, points     int // the last point written, in tenths of a unit, and how many were
}

// to goes to a point.
func (d *pen) to(cell int, y float64) {
	if cell != d.cell {
		d.flush()
		d.cell, d.low, d.high, d.first = cell, y, y, y
	}
	d.low, d.high, d.untilHere = min(d.low, y), max(d.high, y), y
	d.n++
}

// flush draws a step.
func (d *pen) flush() {
	if d.n == 0 {
		return
	}
	ys := []float64{d.low, d.high, d.untilHere}
	switch {
	case d.high-d.low < 0.3:
		ys = ys[2:]
	case d.cell > d.last+1:
		ys = append([]float64{d.first}, ys...)
	}
	for _, y := range ys {
		d.write(10*Left+5*d.cell, int(math.Round(10*y)))
	}
	d.last, d.n = d.cell, 0
}

// write writes a point in tenths of a unit: the first as it is, each other as its distance from the one before, which
// makes pages a fifth smaller.
func (d *pen) write(x, y int) {
	cmd := ""
	switch {
	case d.path.Len() == 0:
		cmd = "M"
	case d.points == 1:
		cmd = "l"
	}
	for _, n := range []int{x - d.x, y - d.y} {
		text := tenths(n)
		if cmd == "" && n >= 0 { // a sign parts numbers as a space does
			cmd = " "
		}
		d.path.WriteString(cmd + text)
		cmd = ""
	}
	d.x, d.y, d.points = x, y, d.points+1
}

// tenths writes a number of tenths, as short as it can be.
func tenths(n int) string {
	text := strconv.FormatFloat(float64(n)/10, 'f', -1, 64)
	if n > -10 && n < 10 && n != 0 {
		text = strings.Replace(text, "0.", ".", 1)
	}
	return text
}
