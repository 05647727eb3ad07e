package vehicle

import (
	"fmt"
	"math"
	"strings"
	"unicode/utf8"

	"drystage/harness/show/chart"
	"drystage/harness/show/report"
	"drystage/sim"
	"drystage/sim/flight"
)

// balance is the mass, the centres and the static margin of one body in one state of its motors.
type balance struct {
	name string
	size float64 // m, of the body
	mass float64 // kg
	flight.Stability
}

// balances gives them as they come in a flight: the whole rocket with all motors full, then with its lowest one empty, then
// what is above that, and so on.
func balances(v *sim.Vehicle) (list []balance) {
	for low := len(v.Stages) - 1; low >= 0; low-- {
		size := 0.0
		for i := range v.Stages[:low+1] {
			size += v.Stages[i].Length
		}
		name := v.Stages[low].Name
		body := "whole rocket"
		if low < len(v.Stages)-1 {
			body = "above " + v.Stages[low+1].Name
		}
		for _, burnt := range []bool{false, true} {
			b := balance{size: size, name: body + ", motors full"}
			if burnt {
				b.name = body + ", " + name + " burnt out"
			}
			if b.mass, b.Stability = flight.Balance(v, 0, low, burnt); burnt && len(v.Stages[low].Mount.Motor.Thrust) == 0 {
				continue
			}
			list = append(list, b)
		}
	}
	return list
}

// sideView draws a vehicle from the side, to scale, its nose to the left, with its measures; below it, for each state in
// balances, where the centres of gravity and of pressure are.
type sideView struct {
	*chart.Chart
	v     *sim.Vehicle
	scale float64 // units a metre
	axis  float64 // y of the body's axis
}

const (
	sideEdge = 16.0 // left and right of the vehicle
	rowTall  = 40.0
	// On a narrow screen the numbers of a state stand below its line.
	rowTallNarrow = 56.0
)

// side draws it in a width.
func side(v *sim.Vehicle, width float64) *chart.Chart {
	size, wide := 0.0, 0.0
	for i := range v.Stages {
		st := &v.Stages[i]
		size += st.Length
		for _, p := range flight.Outline(st) {
			wide = max(wide, p[1])
		}
		for k := range st.Fins {
			wide = max(wide, st.Fins[k].Span+st.Diameter/2)
		}
	}
	s := &sideView{Chart: chart.New(width, 0, 0, 1), v: v}
	s.scale = (width - 2*sideEdge) / max(size, 1e-6)
	half := min(wide*s.scale, 260)
	s.axis = 8 + half
	front := 0.0
	for i := range v.Stages {
		s.stage(&v.Stages[i], front)
		front += v.Stages[i].Length
	}
	y := s.axis + half + 16
	s.measures(y)
	y += 34
	if len(v.Stages) > 1 {
		s.measure(0, size, y, "length "+millimetres(size))
		y += 20
	}
	for _, b := range balances(v) {
		s.balance(&b, y)
		if y += rowTall; width < 600 {
			y += rowTallNarrow - rowTall
		}
	}
	s.Height = y + 4
	return s.Chart
}

func millimetres(x float64) string { return fmt.Sprintf("%.0f mm", x*1000) }

func (s *sideView) x(place float64) float64 { return sideEdge + place*s.scale }

// stage draws hull, motor and fins of a stage.
func (s *sideView) stage(st *sim.Stage, front float64) {
	points := flight.Outline(st)
	var d strings.Builder
	for i, p := range points {
		fmt.Fprintf(&d, "%s%.1f %.1f", letter(i), s.x(front+p[0]), s.axis-p[1]*s.scale)
	}
	for i := len(points) - 1; i >= 0; i-- {
		fmt.Fprintf(&d, "L%.1f %.1f", s.x(front+points[i][0]), s.axis+points[i][1]*s.scale)
	}
	s.Shape("hull", d.String()+"Z")
	if m := &st.Mount; len(m.Motor.Thrust) > 0 {
		for k := range m.Motors() {
			off := 0.0
			if m.Motors() > 1 {
				off = m.Radius * math.Cos(2*math.Pi*float64(k)/float64(m.Motors()))
			}
			wide := m.Motor.Diameter
			s.Bar("motor", s.x(front+m.Station), s.axis-(off+wide/2)*s.scale, m.Motor.Length*s.scale, wide*s.scale, "")
		}
	}
	for k := range st.Fins {
		s.fins(&st.Fins[k], front, st.Diameter/2)
	}
}

func letter(i int) string {
	if i == 0 {
		return "M"
	}
	return "L"
}

// fins draws a set of fins as it is seen from the side, one of them at the top.
func (s *sideView) fins(f *sim.Fins, front, radius float64) {
	for k := range f.Count {
		way := math.Cos(2 * math.Pi * float64(k) / float64(f.Count))
		y := func(r float64) float64 { return s.axis - way*r*s.scale }
		s.Shape("fin", fmt.Sprintf("M%.1f %.1fL%.1f %.1fL%.1f %.1fL%.1f %.1fZ",
			s.x(front+f.Station), y(radius), s.x(front+f.Station+f.Sweep), y(radius+f.Span),
			s.x(front+f.Station+f.Sweep+f.Tip), y(radius+f.Span), s.x(front+f.Station+f.Root), y(radius)))
	}
}

// measures draws the length and the diameter of each stage.
func (s *sideView) measures(y float64) {
	front := 0.0
	for i := range s.v.Stages {
		st := &s.v.Stages[i]
		text := fmt.Sprintf("%s %s, \u2300 %s", report.Plain(st.Name), millimetres(st.Length), millimetres(st.Diameter))
		if letterWidth*float64(utf8.RuneCountInString(text)) > st.Length*s.scale {
			text = millimetres(st.Length)
		}
		s.measure(front, front+st.Length, y, text)
		front += st.Length
	}
}

// letterWidth is about the width of a letter.
const letterWidth = 5.7

// measure draws a dimension line between two places on the axis, with a text below it.
func (s *sideView) measure(from, to, y float64, text string) {
	a, b := s.x(from), s.x(to)
	s.Shape("measure", fmt.Sprintf("M%.1f %.1fv8M%.1f %.1fv8M%.1f %.1fH%.1f", a, y-4, b, y-4, a, y, b))
	s.Text("measured mid", (a+b)/2, y+14, "start", text)
}

// balance draws the row of one state: the body as a line, both centres, and the margin between them.
func (s *sideView) balance(b *balance, y float64) {
	line := y + 24
	s.Text("state", sideEdge, y+10, "start", report.Plain(fmt.Sprintf("%s, %.3f kg", b.name, b.mass)))
	s.Shape("grid", fmt.Sprintf("M%.1f %.1fH%.1f", s.x(0), line, s.x(b.size)))
	cg := s.x(b.CG)
	if b.Slope > 0 && b.CP > -b.size && b.CP < 2*b.size {
		cp := s.x(b.CP)
		class := "margin"
		if b.Margin < 1 {
			class = "margin low"
		}
		s.Shape(class, fmt.Sprintf("M%.1f %.1fH%.1f", cg, line, cp))
		s.Disc("centre", cp, line, 6)
		s.Disc("point", cp, line, 2)
	}
	s.Disc("centre", cg, line, 6)
	s.Shape("quarters", fmt.Sprintf("M%.1f %.1fh6a6 6 0 0 1 -6 6zh-6a6 6 0 0 1 6 -6z", cg, line))
	text := fmt.Sprintf("CG %s, CP %s, margin %.2f calibres", millimetres(b.CG), millimetres(b.CP), b.Margin)
	switch {
	case b.Slope <= 0:
		text = fmt.Sprintf("CG %s, no CP", millimetres(b.CG))
	case s.Width < 600:
		y += 34
	}
	s.Text("state end", s.Width-sideEdge, y+10, "start", strings.ReplaceAll(text, "-", "\u2212"))
}

// Row is the state's name in the page's table.
func (b balance) Row() string { return report.Plain(b.name) }

// Kilograms is the mass.
func (b balance) Kilograms() float64 { return b.mass }

// Gravity is the centre of gravity in mm from the nose.
func (b balance) Gravity() string { return fmt.Sprintf("%.0f", b.CG*1000) }

// Pressure is the centre of pressure in mm from the nose, if there is one.
func (b balance) Pressure() string {
	if b.Slope <= 0 {
		return "\u2013"
	}
	return fmt.Sprintf("%.0f", b.CP*1000)
}

// Calibres is the static margin, if there is a centre of pressure.
func (b balance) Calibres() string {
	if b.Slope <= 0 {
		return "\u2013"
	}
	return strings.ReplaceAll(fmt.Sprintf("%.2f", b.Margin), "-", "\u2212")
}
