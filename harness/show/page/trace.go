package page

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"drystage/harness/show/chart"
	"drystage/harness/show/report"
	"drystage/harness/show/trace"
)

// sensorFigure draws what faults did to a sensor's part: what was true, what the part read, what the board was sent; and
// below that, what faults added, unless that is nothing at all.
func (s *Summary) sensorFigure(sizes []chart.Size, t *trace.Trace) figure {
	what := t.Part.String()
	if t.Axis != "" {
		what += " " + t.Axis
	}
	f := figure{Title: fmt.Sprintf("%s: %s, %s", s.role(t.Bay), what, t.Unit), Note: sampleCounts(t), Wide: len(sizes) == 1}
	lines, known, added := brokenCurve(t, "sent", t.Sent), brokenCurve(t, "true", t.True), added(t)
	lines = append(append(lines, brokenCurve(t, "read", t.Read)...), known...)
	if len(lines) == 0 {
		return f
	}
	from, until := t.At[0].Seconds(), t.At[len(t.At)-1].Seconds()
	for _, z := range sizes {
		c := chart.New(z.Width, 0, from, max(until, from+1e-3))
		p := c.Panel(chart.Head, chart.Head+100)
		p.Grid(p.Scale(lines), len(added) == 0)
		p.Draw(lines...)
		if len(added) > 0 {
			p = c.Panel(p.Bottom+12, p.Bottom+72)
			p.Grid(p.Scale(added), true)
			p.Draw(added...)
		}
		c.Height = p.Bottom + chart.Foot
		f.Pics = append(f.Pics, template.HTML(c.SVG(z.Class, report.Plain(f.Title)+": as sent, as read and as it truly was, and what faults added, against time"))) // a chart makes no text markup
	}
	f.Legend = []key{{"sent", "as sent to the board"}, {"read", "as read, before faults"}}
	if len(known) > 0 {
		f.Legend = append(f.Legend, key{"true", "as it truly was"})
	}
	if len(added) > 0 {
		f.Legend = append(f.Legend, key{"added", "what faults added"})
	}
	return f
}

// added gives the curve of what faults added; none where they added nothing.
func added(t *trace.Trace) []chart.Line {
	diff, any := make([]float64, len(t.At)), false
	for i := range diff {
		diff[i] = t.Sent[i] - t.Read[i]
		any = any || diff[i] != 0 && !math.IsNaN(diff[i])
	}
	if !any {
		return nil
	}
	return brokenCurve(t, "added", diff)
}

// sampleCounts tells in words what faults did to a part's samples.
func sampleCounts(t *trace.Trace) string {
	text := fmt.Sprintf("samples that faults touched: %d, from %s to %s", t.Hit, t.First, t.Last)
	var more []string
	for _, x := range []struct {
		n    int
		what string
	}{{t.Dropped, "taken away"}, {t.Twice, "sent twice"}, {t.NoFix, "without a fix"}} {
		if x.n > 0 {
			more = append(more, fmt.Sprintf("%d %s", x.n, x.what))
		}
	}
	if len(more) > 0 {
		text += "; " + strings.Join(more, ", ")
	}
	return text
}

// brokenCurve gives the curve of a trace, broken where at least three samples in a row are missing.
func brokenCurve(t *trace.Trace, class string, values []float64) (lines []chart.Line) {
	const mostBreaks = 50
	l, missing := chart.Line{Class: class}, 0
	for i, x := range values {
		if math.IsNaN(x) {
			missing++
			continue
		}
		if missing >= 3 && l.Len() > 0 && len(lines) < mostBreaks {
			lines = append(lines, simplify(l, maxPoints/2))
			l = chart.Line{Class: class}
		}
		missing = 0
		l.Add(t.At[i].Seconds(), x)
	}
	if l.Len() > 0 {
		lines = append(lines, simplify(l, maxPoints/2))
	}
	return lines
}

func (s *Summary) role(bay int) string {
	if bay < len(s.boards) {
		return s.boards[bay].Role
	}
	return fmt.Sprintf("board %d", bay+1)
}
