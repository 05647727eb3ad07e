package page

import (
	"html/template"

	"drystage/harness/show/chart"
)

// figure is a picture in two widths, of which the page shows the one that fits.
type figure struct {
	Title  string
	Note   string
	Pics   []template.HTML
	Legend []key
	Wide   bool // on a narrow screen it is moved sideways
}

type key struct{ Class, Text string }

// alone is the one picture of a pass among many scenarios: on a narrow screen it is moved sideways. The second width is
// two fifths of a page, and it is the scenarios that did not pass that people look into.
var alone = []chart.Size{{Class: "broad alone", Width: 960}}

// many is how many scenarios a page has from which on passes have one picture.
const many = 40

// figures draws the way up, where things happen close together, and the whole flight.
func (s *Summary) figures(sizes []chart.Size) []figure {
	if len(s.bodies) == 0 {
		return nil
	}
	whole := s.flight(sizes, "The whole flight", [2]float64{0, max(s.end, 0.1)}, s.ascent[1], 120, 80)
	if s.ascent[1] == 0 {
		return []figure{whole}
	}
	return []figure{s.flight(sizes, "The way up", s.ascent, 0, 150, 100), whole}
}

// flight draws height and speed, and below them the lanes, in a span of time. Events are named after an instant.
func (s *Summary) flight(sizes []chart.Size, title string, span [2]float64, named, tall, low float64) figure {
	f := figure{Title: title, Wide: len(sizes) == 1}
	for _, z := range sizes {
		d := &drawing{s, chart.New(z.Width, 0, span[0], span[1]), z.Width >= 900 && len(sizes) > 1, 0}
		if len(sizes) == 1 {
			d.off = plainTolerance
		}
		d.draw(named, tall, low)
		f.Pics = append(f.Pics, d.html(z.Class, title+": height and speed; below, what each output had to do and did"))
	}
	for i := range s.bodies {
		f.Legend = append(f.Legend, key{class(i), s.bodies[i].Name})
	}
	if f.Wide && named > 0 { // the picture above it has the rest
		return f
	}
	f.Legend = append(f.Legend, key{"must", "must switch on here"}, key{"dark", "must be dark here"}, key{"lit", "was on"})
	if len(s.faults) > 0 {
		f.Legend = append(f.Legend, key{"fault", "fault active"})
	}
	return f
}
