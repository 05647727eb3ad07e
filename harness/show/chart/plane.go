package chart

import (
	"fmt"
	"math"
	"strings"
)

// Plane is a picture of two quantities against each other: places on a map, or one number of many flights against another.
type Plane struct {
	*Chart
	top, bottom float64
	low, high   [2]float64 // of both axes
}

// The room around a plane: for the numbers of the axes, and for their names.
const (
	planeHead = 22
	planeFoot = 24
)

// NewPlane makes a plane that holds a range of both quantities with a little room around it. If it is a map, both axes
// have one scale, and the range of one of them grows.
func NewPlane(width, height float64, low, high [2]float64, isMap bool) *Plane {
	p := &Plane{Chart: New(width, height, 0, 1), top: planeHead, bottom: height - planeFoot, low: low, high: high}
	for i := range 2 {
		if !(p.high[i]-p.low[i] > 1e-9*max(math.Abs(p.high[i]), 1e-9)) || math.IsInf(p.high[i]-p.low[i], 0) {
			p.low[i], p.high[i] = p.low[i]-1, p.low[i]+1
		}
		room := 0.06 * (p.high[i] - p.low[i])
		p.low[i], p.high[i] = p.low[i]-room, p.high[i]+room
	}
	if isMap {
		wide, tall := width-Left-Right, p.bottom-p.top
		scale := max((p.high[0]-p.low[0])/wide, (p.high[1]-p.low[1])/tall)
		for i, room := range []float64{wide * scale, tall * scale} {
			middle := (p.low[i] + p.high[i]) / 2
			p.low[i], p.high[i] = middle-room/2, middle+room/2
		}
	}
	return p
}

// At is the place of a pair of values.
func (p *Plane) At(x, y float64) (px, py float64) {
	px = Left + (x-p.low[0])/(p.high[0]-p.low[0])*(p.Width-Left-Right)
	return px, p.top + (p.high[1]-y)/(p.high[1]-p.low[1])*(p.bottom-p.top)
}

// Grid draws both axes with their names.
func (p *Plane) Grid(xName, yName string) {
	step := [2]float64{roundStep((p.high[0] - p.low[0]) / max((p.Width-Left)/90, 3)), roundStep((p.high[1] - p.low[1]) / max((p.bottom-p.top)/45, 3))}
	for _, x := range gridValues(p.low[0], p.high[0], step[0]) {
		px, _ := p.At(x, 0)
		fmt.Fprintf(&p.b, `<path class="%s" d="M%.1f %.0fV%.0f"/>`, gridClass(x, step[0]), px, p.top, p.bottom)
		if text := number(round6(x)); px+3*float64(len(text)) < p.Width-2 {
			p.Text("tick mid", px, p.bottom+14, "start", text)
		}
	}
	for _, y := range gridValues(p.low[1], p.high[1], step[1]) {
		_, py := p.At(0, y)
		fmt.Fprintf(&p.b, `<path class="%s" d="M%d %.1fH%.0f"/>`, gridClass(y, step[1]), Left, py, p.Width-Right)
		p.Text("tick end", Left-6, py+4, "start", number(round6(y)))
	}
	p.Text("axis", 2, 12, "start", yName)
	p.Text("axis end", p.Width-Right, p.Height+2, "start", xName)
	p.Height += 8
}

func gridClass(x, step float64) string {
	if math.Abs(x) < step/1e6 {
		return "zero"
	}
	return "grid"
}

func round6(x float64) float64 { return math.Round(x*1e6)/1e6 + 0 }

// Inside says that a pair of values lies in the picture.
func (p *Plane) Inside(x, y float64) bool {
	return x >= p.low[0] && x <= p.high[0] && y >= p.low[1] && y <= p.high[1]
}

// Dot draws a dot; its text is shown when somebody points at it.
func (p *Plane) Dot(class string, x, y, r float64, text string) {
	if px, py := p.At(x, y); p.Inside(x, y) {
		fmt.Fprintf(&p.b, `<circle class="%s" cx="%.1f" cy="%.1f" r="%.1f">%s</circle>`, class, px, py, r, title(text))
	}
}

// Path draws a line through places, closed if asked for.
func (p *Plane) Path(class string, points [][2]float64, closed bool) {
	var d strings.Builder
	for i, q := range points {
		if math.IsNaN(q[0]+q[1]) || math.IsInf(q[0]+q[1], 0) {
			return
		}
		x, y := p.At(q[0], q[1])
		fmt.Fprintf(&d, "%s%.1f %.1f", map[bool]string{true: "M", false: "L"}[i == 0], x, y)
	}
	if closed {
		d.WriteString("Z")
	}
	p.Shape(class, d.String())
}

// Shape draws a path in units of the picture.
func (c *Chart) Shape(class, d string) {
	if d != "" {
		fmt.Fprintf(&c.b, `<path class="%s" d="%s"/>`, class, d)
	}
}

// Disc draws a circle in units of the picture.
func (c *Chart) Disc(class string, x, y, r float64) {
	fmt.Fprintf(&c.b, `<circle class="%s" cx="%.1f" cy="%.1f" r="%.1f"/>`, class, x, y, r)
}

// Bar draws a rectangle in units of the picture; its text is shown when somebody points at it.
func (c *Chart) Bar(class string, x, y, wide, tall float64, text string) {
	fmt.Fprintf(&c.b, `<rect class="%s" x="%.1f" y="%.1f" width="%.1f" height="%.1f">%s</rect>`, class, x, y, max(wide, 0), max(tall, 0), title(text))
}
