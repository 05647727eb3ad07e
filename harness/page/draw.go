package page

import (
	"fmt"
	"html/template"
	"math"
	"unicode/utf8"

	"drystage/harness/chart"
	"drystage/harness/report"
	"drystage/harness/verdict"
	"drystage/sim"
)

// figure is a picture in two widths, of which the page shows the one that fits.
type figure struct {
	Title  string
	Note   string
	Pics   []template.HTML
	Legend []key
}

type key struct{ Class, Text string }

// size is one of the widths in which pictures are made.
type size struct {
	class string
	width float64
}

var sizes = []size{{"broad", 960}, {"slim", 400}}

// figures draws the way up, where things happen close together, and the whole flight.
func (s *Scene) figures() []figure {
	if len(s.bodies) == 0 {
		return nil
	}
	whole := s.flight("The whole flight", [2]float64{0, max(s.end, 0.1)}, s.ascent[1], 120, 80)
	if s.ascent[1] == 0 {
		return []figure{whole}
	}
	return []figure{s.flight("The way up", s.ascent, 0, 150, 100), whole}
}

// flight draws height and speed, and below them the lanes, in a span of time. Events are named after an instant.
func (s *Scene) flight(title string, span [2]float64, named, tall, low float64) figure {
	f := figure{Title: title}
	for _, z := range sizes {
		d := &drawing{s, chart.New(z.width, 0, span[0], span[1]), z.class == "broad"}
		d.draw(named, tall, low)
		f.Pics = append(f.Pics, template.HTML(d.SVG(z.class, title+": height and speed of each body against time; below, for each output, when it had to be on or dark and when it was on"))) // a chart makes no text markup
	}
	for i := range s.bodies {
		f.Legend = append(f.Legend, key{class(i), s.bodies[i].Name})
	}
	f.Legend = append(f.Legend, key{"must", "must switch on here"}, key{"dark", "must be dark here"}, key{"lit", "was on"})
	if len(s.faults) > 0 {
		f.Legend = append(f.Legend, key{"fault", "fault active"})
	}
	return f
}

// drawing is one picture of a scene being made.
type drawing struct {
	*Scene
	*chart.Chart
	pointed bool // somebody may point at things: what is narrow is for fingers
}

// hint is a text for those who point at something.
func (d *drawing) hint(text string) string {
	if d.pointed {
		return text
	}
	return ""
}

// draw draws all of it from top to bottom.
func (d *drawing) draw(named, tall, low float64) {
	var names []chart.Mark
	for _, m := range d.marks {
		if m.At > named && m.At >= d.From && m.At <= d.Until {
			names = append(names, m)
		}
	}
	y := chart.Head + chart.BannerHeight(names)
	height := d.Panel(y, y+tall)
	speed := d.Panel(y+tall+14, y+tall+14+low)
	frame := d.Panel(y, speed.Bottom+6+d.room())
	d.Height = frame.Bottom + chart.Foot
	frame.Upright(true)
	for _, m := range d.marks {
		frame.Mark("moment", m.At, d.hint(fmt.Sprintf("%s, %.3f s", m.Name, m.At)))
	}
	height.Banner(names)
	d.curves(height, "height, m", func(b *body) chart.Line { return b.height })
	d.curves(speed, "speed, m/s", func(b *body) chart.Line { return b.speed })
	d.rows(speed.Bottom + 6)
}

// curves draws a quantity of all bodies, the top one above the others.
func (d *drawing) curves(p *chart.Panel, caption string, of func(*body) chart.Line) {
	var lines []chart.Line
	for i := len(d.bodies) - 1; i >= 0; i-- {
		if l := of(&d.bodies[i]).Clip(d.From, d.Until); l.Len() > 0 {
			lines = append(lines, l)
		}
	}
	p.Levels(p.Scale(lines))
	p.Draw(lines...)
	if d.From > 0 || d.ascent[1] == d.Until { // the curves begin low
		d.Text("caption", chart.Left+5, p.Top+11, "start", caption)
	} else {
		d.Text("caption", d.Width-chart.Right-4, p.Top+11, "end", caption)
	}
}

// The room of a lane: its name, and below it a strip.
const (
	laneRoom  = 35
	laneName  = 13
	laneStrip = 14
)

// room is the height of all lanes.
func (d *drawing) room() float64 {
	return laneRoom*float64(len(d.lanes)+len(d.phased())+len(d.faults)) + 4
}

// phased are the boards that said something.
func (d *drawing) phased() (list []*said) {
	for i := range d.said {
		if len(d.said[i].Phases) > 0 {
			list = append(list, &d.said[i])
		}
	}
	return list
}

// rows draws the lanes of outputs, of what boards said, and of faults.
func (d *drawing) rows(y float64) {
	for i := range d.lanes {
		l := &d.lanes[i]
		d.output(d.strip(&y, l.name, l.answer), l)
	}
	for _, s := range d.phased() {
		d.phases(d.strip(&y, s.Role+" reports", ""), s)
	}
	for i := range d.faults {
		m := &d.faults[i]
		p := d.strip(&y, fmt.Sprintf("fault %d: %s", i+1, m.Text), "")
		for _, w := range m.spans {
			p.Box("fault", seconds(w.From), seconds(w.To), 2, d.hint(m.Text+", "+m.Seen))
		}
	}
}

// strip writes a lane's name, with what there is to say at its end, and gives its strip.
func (d *drawing) strip(y *float64, name, says string) *chart.Panel {
	letters := int((d.Width-chart.Left-chart.Right)/6.1) - utf8.RuneCountInString(says) - 2
	d.Text("lane", chart.Left, *y+laneName-2, "start", short(report.Plain(name), letters))
	if says != "" {
		d.Text("lane "+says, d.Width-chart.Right, *y+laneName-2, "end", says)
	}
	p := d.Panel(*y+laneName+2, *y+laneName+2+laneStrip)
	p.Box("track", d.From, d.Until, 0, "")
	*y += laneRoom
	return p
}

// output draws what was demanded of an output, and when it was on.
func (d *drawing) output(p *chart.Panel, l *lane) {
	for _, w := range d.merged(l.dark) {
		p.Box("dark", seconds(w.From), seconds(w.To), 0, d.hint("must be dark"+when(w)))
	}
	for _, w := range l.must {
		p.Box("must", seconds(w.From), seconds(w.To), 0, d.hint("must switch on"+when(w)))
	}
	for i, x := range l.lights {
		text := "was on from " + measured(x.On, x.OnWithin) + " to " + measured(x.Off, x.OffWithin)
		if x.Open {
			text = "was on from " + measured(x.On, x.OnWithin) + ", and still on when the record ended"
		}
		text = d.hint(text)
		d.doubt(p, x.On, x.OnWithin, text)
		if !x.Open {
			d.doubt(p, x.Off, x.OffWithin, text)
		}
		left, right, drawn := p.Box("lit", seconds(x.On), seconds(x.Off), 4, text)
		if drawn && i == 0 {
			d.tell(p, left, right, x.On.String(), len(l.lights)-1)
		}
	}
}

// doubt draws how uncertain an edge is, if that can be seen.
func (d *drawing) doubt(p *chart.Panel, at, within sim.Time, text string) {
	from, to := seconds(at)-seconds(within), seconds(at)+seconds(within)
	if d.X(to)-d.X(from) >= 2 {
		p.Box("doubt", from, to, 1, text)
	}
}

// tell writes when an output switched on beside its bar, where there is room.
func (d *drawing) tell(p *chart.Panel, left, right float64, at string, more int) {
	if more > 0 {
		at += fmt.Sprintf(", and %d more", more)
	}
	wide := 6 * float64(len(at))
	switch y := p.Bottom - 3; {
	case right+4+wide < d.Width-chart.Right:
		d.Text("when", right+4, y, "start", at)
	case left-4-wide > chart.Left:
		d.Text("when", left-4, y, "end", at)
	}
}

// phases draws what a board said, each phase with its name where there is room.
func (d *drawing) phases(p *chart.Panel, s *said) {
	for i, x := range s.Phases {
		name := report.Plain(x.Name)
		left, right, drawn := p.Box([...]string{"phase", "phase odd"}[i%2], seconds(x.From), seconds(x.Until), 1, d.hint(fmt.Sprintf("%s from %s", name, x.From)))
		if drawn && right-left > 6*float64(utf8.RuneCountInString(name))+6 {
			d.Text("said", left+3, p.Bottom-3, "start", name)
		}
	}
}

// merged joins spans in order that lie so close together that nobody sees what is between them.
func (d *drawing) merged(spans []verdict.Span) (out []verdict.Span) {
	near := (d.Until - d.From) / (d.Width - chart.Left - chart.Right) / 2
	for _, w := range spans {
		if n := len(out); n > 0 && w.From >= out[n-1].From && seconds(w.From)-seconds(out[n-1].To) < near {
			out[n-1].To = max(out[n-1].To, w.To)
		} else {
			out = append(out, w)
		}
	}
	return out
}

// when tells a window, either end of which may be open.
func when(w verdict.Span) string {
	text := ""
	if w.From > -sim.Never {
		text = " from " + w.From.String()
	}
	if w.To < sim.Never {
		text += " to " + w.To.String()
	}
	return text
}

// measured is a time with its uncertainty.
func measured(t, within sim.Time) string {
	if within == 0 {
		return t.String()
	}
	return fmt.Sprintf("%s \u00b1 %.2g ms", t, math.Abs(within.Seconds()*1e3))
}
