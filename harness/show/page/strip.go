package page

import (
	"fmt"
	"math"
	"unicode/utf8"

	"drystage/harness/judge/verdict"
	"drystage/harness/show/chart"
	"drystage/harness/show/report"
	"drystage/sim"
)

// The room of a lane: its name, and below it a strip.
const (
	laneRoom  = 35
	laneName  = 13
	laneStrip = 14
)

// room is the height of all lanes.
func (d *drawing) room() float64 {
	return laneRoom*float64(len(d.lanes)+len(d.reporting())+len(d.faults)) + 4
}

// reporting are the boards that said something.
func (d *drawing) reporting() (list []*boardReports) {
	for i := range d.reports {
		if len(d.reports[i].Phases) > 0 {
			list = append(list, &d.reports[i])
		}
	}
	return list
}

// drawLanes draws the lanes of outputs, of what boards said, and of faults.
func (d *drawing) drawLanes(y float64) {
	var tracks []*chart.Panel
	for i := range len(d.lanes) + len(d.reporting()) + len(d.faults) {
		tracks = append(tracks, d.track(y+laneRoom*float64(i)))
	}
	d.Tracks(tracks)
	for i := range d.lanes {
		l := &d.lanes[i]
		d.drawOutput(d.strip(&y, l.name, l.answer), l)
	}
	for _, s := range d.reporting() {
		d.drawPhases(d.strip(&y, s.Role+" reports", ""), s)
	}
	for i := range d.faults {
		m := &d.faults[i]
		p := d.strip(&y, fmt.Sprintf("fault %d: %s", i+1, m.Text), "")
		for _, w := range m.spans {
			p.Box("fault", w.From.Seconds(), w.To.Seconds(), 2, d.tooltip(m.Text+", "+m.Seen))
		}
	}
}

// strip writes a lane's name, with its answer at the end, and gives the panel of its strip.
func (d *drawing) strip(y *float64, name, says string) *chart.Panel {
	letters := int((d.Width-chart.Left-chart.Right)/6.1) - utf8.RuneCountInString(says) - 2
	d.Text("lane", chart.Left, *y+laneName-2, "start", shorten(report.Plain(name), letters))
	if says != "" {
		d.Text("lane "+says, d.Width-chart.Right, *y+laneName-2, "end", says)
	}
	p := d.track(*y)
	*y += laneRoom
	return p
}

// track is the panel of a lane's strip.
func (d *drawing) track(y float64) *chart.Panel {
	return d.Panel(y+laneName+2, y+laneName+2+laneStrip)
}

// drawOutput draws what was demanded of an output, and when it was on.
func (d *drawing) drawOutput(p *chart.Panel, l *lane) {
	for _, w := range d.merged(l.dark) {
		p.Box("dark", w.From.Seconds(), w.To.Seconds(), 0, d.tooltip("must be dark"+when(w)))
	}
	for _, w := range l.must {
		p.Box("must", w.From.Seconds(), w.To.Seconds(), 0, d.tooltip("must switch on"+when(w)))
	}
	for i, x := range l.on {
		text := "was on from " + measured(x.On, x.OnWithin) + " to " + measured(x.Off, x.OffWithin)
		if x.Open {
			text = "was on from " + measured(x.On, x.OnWithin) + ", and still on when the record ended"
		}
		text = d.tooltip(text)
		d.drawUncertainty(p, x.On, x.OnWithin, text)
		if !x.Open {
			d.drawUncertainty(p, x.Off, x.OffWithin, text)
		}
		left, right, drawn := p.Box("lit", x.On.Seconds(), x.Off.Seconds(), 4, text)
		if drawn && i == 0 {
			d.labelTime(p, left, right, x.On.String(), len(l.on)-1)
		}
	}
}

// drawUncertainty draws how uncertain an edge is, if that can be seen.
func (d *drawing) drawUncertainty(p *chart.Panel, at, within sim.Time, text string) {
	from, to := at.Seconds()-within.Seconds(), at.Seconds()+within.Seconds()
	if d.X(to)-d.X(from) >= 2 {
		p.Box("doubt", from, to, 1, text)
	}
}

// labelTime writes when an output switched on beside its bar, where there is room.
func (d *drawing) labelTime(p *chart.Panel, left, right float64, at string, more int) {
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

// drawPhases draws what a board said, each phase with its name where there is room.
func (d *drawing) drawPhases(p *chart.Panel, s *boardReports) {
	for i, x := range s.Phases {
		name := report.Plain(x.Name)
		left, right, drawn := p.Box([...]string{"phase", "phase odd"}[i%2], x.From.Seconds(), x.Until.Seconds(), 1, d.tooltip(fmt.Sprintf("%s from %s", name, x.From)))
		if drawn && right-left > 6*float64(utf8.RuneCountInString(name))+6 {
			d.Text("said", left+3, p.Bottom-3, "start", name)
		}
	}
}

// merged joins spans in order that lie so close together that nobody sees what is between them.
func (d *drawing) merged(spans []verdict.Span) (out []verdict.Span) {
	near := (d.Until - d.From) / (d.Width - chart.Left - chart.Right) / 2
	for _, w := range spans {
		if n := len(out); n > 0 && w.From >= out[n-1].From && w.From.Seconds()-out[n-1].To.Seconds() < near {
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
