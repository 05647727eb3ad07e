package page

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"drystage/harness/chart"
	"drystage/harness/injected"
	"drystage/harness/report"
)

// traced draws what faults did to a sensor's part: what was true, what the part read, what the board was sent.
func (s *Scene) traced(t *injected.Trace) figure {
	what := t.Part.String()
	if t.Axis != "" {
		what += " " + t.Axis
	}
	f := figure{Title: fmt.Sprintf("%s: %s, %s", s.role(t.Bay), what, t.Unit), Note: told(t)}
	lines := whole(t, "sent", t.Sent)
	lines = append(lines, whole(t, "read", t.Read)...)
	known := whole(t, "true", t.True)
	lines = append(lines, known...)
	if len(lines) == 0 {
		return f
	}
	from, until := seconds(t.At[0]), seconds(t.At[len(t.At)-1])
	for _, z := range sizes {
		const tall = 130
		c := chart.New(z.width, tall, from, max(until, from+1e-3))
		p := c.Panel(chart.Head, tall-chart.Foot)
		p.Grid(p.Scale(lines), true)
		for _, l := range lines {
			p.Draw(l)
		}
		what := report.Plain(f.Title)
		f.Pics = append(f.Pics, template.HTML(c.SVG(z.class, what+": as sent, as read and as it truly was, against time"))) // a chart makes no text markup
	}
	f.Legend = []key{{"sent", "as sent to the board"}, {"read", "as read, before faults"}}
	if len(known) > 0 {
		f.Legend = append(f.Legend, key{"true", "as it truly was"})
	}
	return f
}

// told tells in words what faults did to a part's samples.
func told(t *injected.Trace) string {
	text := fmt.Sprintf("faults touched %s, %s to %s", plural(t.Hit, "sample"), t.First, t.Last)
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
		text += ": " + strings.Join(more, ", ")
	}
	return text
}

// whole gives the curve of a trace, broken where at least three samples in a row are missing.
func whole(t *injected.Trace, class string, values []float64) (lines []chart.Line) {
	const mostBreaks = 50
	l, missing := chart.Line{Class: class}, 0
	for i, x := range values {
		if math.IsNaN(x) {
			missing++
			continue
		}
		if missing >= 3 && l.Len() > 0 && len(lines) < mostBreaks {
			lines = append(lines, small(l, 75))
			l = chart.Line{Class: class}
		}
		missing = 0
		l.Add(seconds(t.At[i]), x)
	}
	if l.Len() > 0 {
		lines = append(lines, small(l, 75))
	}
	return lines
}

func (s *Scene) role(bay int) string {
	if bay < len(s.boards) {
		return s.boards[bay].Role
	}
	return fmt.Sprintf("board %d", bay+1)
}

func plural(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
