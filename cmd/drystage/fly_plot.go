package main

import (
	"io"

	"drystage/harness/show/chart"
	"drystage/harness/show/report"
	"drystage/sim"
)

// Sizes of the picture.
const (
	pictureWidth = 960
	panelHeight  = 150
	panelGap     = 14
)

// draw writes the picture as SVG: the ascent, where events come close together, above the whole flight.
func (c *curves) draw(w io.Writer, events []sim.Event) error {
	var charts []*chart.Chart
	marks := c.marks(events)
	for _, s := range c.spans(events) {
		charts = append(charts, c.chart(s, marks, pictureWidth))
	}
	var keys []chart.Key
	for i := range c.set.Vehicle.Stages {
		keys = append(keys, chart.Key{Class: chart.StageClass(i), Text: report.Plain(c.set.Vehicle.Stages[i].Name)})
	}
	return chart.File(w, report.Plain(c.set.Vehicle.Name), keys, charts...)
}

// marks are the events with names that can be drawn.
func (c *curves) marks(events []sim.Event) []chart.Mark {
	marks := chart.Marks(events, c.set.Launch)
	for i := range marks {
		marks[i].Name = report.Plain(marks[i].Name)
	}
	return marks
}

// period is a part of the flight that has a chart of its own, in seconds since the launch. Events up to named have their
// names in the chart before.
type period struct {
	title        string
	named, until float64
}

// spans splits the flight where the ascent is short beside the whole.
func (c *curves) spans(events []sim.Event) []period {
	end := 1e-3
	for _, l := range c.of[0] {
		if n := l.Len(); n > 0 {
			end = max(end, l.T[n-1])
		}
	}
	up := chart.Ascent(&c.set.Vehicle, events, c.set.Launch)
	if up == 0 || up > 0.7*end {
		return []period{{"whole flight", 0, end}}
	}
	return []period{{"ascent", 0, up}, {"whole flight", up, end}}
}

// chart draws the quantities of one span below each other.
func (c *curves) chart(s period, marks []chart.Mark, width float64) *chart.Chart {
	out := chart.New(width, 0, 0, s.until)
	var names, unnamed []chart.Mark
	for _, m := range marks {
		if m.At > s.named && m.At <= s.until {
			names = append(names, m)
		} else {
			unnamed = append(unnamed, m)
		}
	}
	y := chart.Head + out.BannerHeight(names)
	frame := out.Panel(y, y+float64(len(c.of))*(panelHeight+panelGap)-panelGap)
	frame.VerticalGrid(true)
	frame.Moments(names, unnamed)
	frame.Banner(names)
	for q := range c.of {
		p := out.Panel(y, y+panelHeight)
		var lines []chart.Line
		for i := len(c.of[q]) - 1; i >= 0; i-- { // the top stage above the others
			if l := c.of[q][i].Clip(0, s.until).Thin(800); l.Len() > 0 {
				l.Class = chart.StageClass(i)
				lines = append(lines, l)
			}
		}
		p.HorizontalGrid(p.Scale(lines))
		p.Readable(drawnQuantities[q].label)
		p.Draw(lines...)
		if s.named == 0 { // the curves begin low
			out.Text("caption", chart.Left+5, p.Top+11, "start", drawnQuantities[q].label)
		} else {
			out.Text("caption", out.Width-chart.Right-4, p.Top+11, "end", drawnQuantities[q].label)
		}
		y = p.Bottom + panelGap
	}
	out.Height = frame.Bottom + chart.Foot + 16
	out.Text("tick", out.Width-chart.Right, frame.Bottom+chart.Foot+8, "end", s.title+", time since launch")
	return out
}
