package examine

import (
	"fmt"
	"math"
	"strings"
)

// chart draws series against time as an SVG of a width in units that are about pixels.
type chart struct {
	width, height float64
	from, until   float64 // s
	low, high     float64
	b             strings.Builder
}

const (
	leftRoom, rightRoom = 52, 10
	topRoom, bottomRoom = 8, 22
)

// line is one series of a chart: what it is decides how it looks.
type line struct {
	class string // measured, second, smoothed, simulated
	t, x  []float64
}

func (c *chart) px(t float64) float64 {
	return leftRoom + (t-c.from)/(c.until-c.from)*(c.width-leftRoom-rightRoom)
}

func (c *chart) py(x float64) float64 {
	return topRoom + (c.high-x)/(c.high-c.low)*(c.height-topRoom-bottomRoom)
}

// scale sets the range of the axis to what the lines need, in round numbers.
func (c *chart) scale(lines []line) float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for _, l := range lines {
		for i, t := range l.t {
			if t >= c.from && t <= c.until {
				low, high = min(low, l.x[i]), max(high, l.x[i])
			}
		}
	}
	if !(high > low) {
		low, high = low-1, low+1
	}
	if math.IsInf(low, 0) || math.IsNaN(low) {
		low, high = 0, 1
	}
	c.low, c.high = low-0.04*(high-low), high+0.06*(high-low)
	return nice((high - low) / 5)
}

// nice gives 1, 2 or 5 times a power of ten that is at least x.
func nice(x float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(x)))
	for _, f := range []float64{1, 2, 5} {
		if f*p >= x*0.999 {
			return f * p
		}
	}
	return 10 * p
}

// grid draws the axes.
func (c *chart) grid(step float64, times bool) {
	for k := math.Ceil(c.low / step); k*step <= c.high; k++ {
		x := k * step
		y := c.py(x)
		class := "grid"
		if math.Abs(x) < step/1e6 {
			class, x = "zero", 0
		}
		fmt.Fprintf(&c.b, `<line class="%s" x1="%d" x2="%.0f" y1="%.1f" y2="%.1f"/><text class="tick" x="%d" y="%.1f" text-anchor="end">%s</text>`, class, leftRoom, c.width-rightRoom, y, y, leftRoom-6, y+4, number(x))
	}
	every := nice((c.until - c.from) / max((c.width-leftRoom)/90, 3))
	for k := math.Ceil(c.from / every); k*every <= c.until; k++ {
		t := k * every
		x := c.px(t)
		fmt.Fprintf(&c.b, `<line class="grid" x1="%.1f" x2="%.1f" y1="%d" y2="%.0f"/>`, x, x, topRoom, c.height-bottomRoom)
		if times {
			fmt.Fprintf(&c.b, `<text class="tick" x="%.1f" y="%.0f" text-anchor="middle">%s s</text>`, x, c.height-6, number(t))
		}
	}
}

func number(x float64) string {
	s := fmt.Sprintf("%.6g", x)
	return strings.Replace(s, "-", "\u2212", 1)
}

// moments draws where phases begin.
func (c *chart) moments(ms []Moment) {
	for _, m := range ms {
		if m.At >= c.from && m.At <= c.until {
			fmt.Fprintf(&c.b, `<line class="moment" x1="%.1f" x2="%.1f" y1="%d" y2="%.0f"><title>%s, %.3f s</title></line>`, c.px(m.At), c.px(m.At), topRoom, c.height-bottomRoom, m.Name(), m.At)
		}
	}
}

// finding shades a stretch and numbers it.
func (c *chart) finding(f *Finding, n int) {
	from, until := max(f.From, c.from), min(f.Until, c.until)
	if from >= until {
		return
	}
	class := "odd"
	if f.Real() {
		class = "real"
	}
	x, w := c.px(from), max(c.px(until)-c.px(from), 2.5)
	fmt.Fprintf(&c.b, `<a href="#finding-%d"><rect class="%s" x="%.1f" y="%d" width="%.1f" height="%.0f"><title>%s</title></rect>`, n, class, x, topRoom, w, c.height-topRoom-bottomRoom, f.Title())
	fmt.Fprintf(&c.b, `<circle class="pin" cx="%.1f" cy="%d" r="8"/><text class="pinned" x="%.1f" y="%d" text-anchor="middle">%d</text></a>`, x+w/2, topRoom+9, x+w/2, topRoom+13, n)
}

// draw draws a line, with no more points than can be seen: of each step of half a unit the
// least, the greatest and the last.
func (c *chart) draw(l line) {
	var p strings.Builder
	cell, n := math.MinInt, 0
	var low, high, last float64
	flush := func() {
		if n == 0 {
			return
		}
		x := leftRoom + float64(cell)/2
		for _, y := range order(low, high, last) {
			cmd := "L"
			if p.Len() == 0 {
				cmd = "M"
			}
			fmt.Fprintf(&p, "%s%.1f %.1f", cmd, x, y)
		}
		n = 0
	}
	for i, t := range l.t {
		if t < c.from || t > c.until || math.IsNaN(l.x[i]) {
			continue
		}
		k, y := int(2*(c.px(t)-leftRoom)), min(max(c.py(l.x[i]), topRoom-4), c.height-bottomRoom+4)
		if k != cell {
			flush()
			cell, low, high = k, y, y
		}
		low, high, last = min(low, y), max(high, y), y
		n++
	}
	flush()
	if p.Len() > 0 {
		fmt.Fprintf(&c.b, `<path class="%s" d="%s"/>`, l.class, p.String())
	}
}

// order gives the heights of a cell that are drawn.
func order(low, high, last float64) []float64 {
	if high-low < 0.3 {
		return []float64{last}
	}
	return []float64{low, high, last}
}

// svg gives the picture; what says, for those who can't see it, what it shows.
func (c *chart) svg(class, what string) string {
	return fmt.Sprintf(`<svg class="%s" viewBox="0 0 %.0f %.0f" role="img" aria-label="%s">%s</svg>`, class, c.width, c.height, what, c.b.String())
}
