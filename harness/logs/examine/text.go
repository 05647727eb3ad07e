package examine

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strings"

	"drystage/sim"
)

// Text writes a result for a terminal of a width.
func Text(w io.Writer, r *Result, width int) error {
	b := bufio.NewWriter(w)
	from, to := r.Log.Span()
	fmt.Fprintf(b, "%s: %d samples from %s to %s\n\n", r.Log.Name, r.Log.Samples(), from, to)
	if r.Cropped {
		fmt.Fprintf(b, "a long log: from a minute before liftoff on was looked at, half an hour at most\n\n")
	}
	for _, u := range r.Untold {
		fold(b, "not told: ", u, width)
	}
	if len(r.Untold) > 0 {
		fmt.Fprintln(b)
	}
	fmt.Fprintf(b, "%-14s %10s %8s %9s %10s  %s\n", "phase begins", "time", "+-", "height", "speed", "told by")
	for _, m := range r.Moments {
		h, v := r.motion(m)
		fmt.Fprintf(b, "%-14s %8.3f s %6.3f s %7.1f m %6.1f m/s  %s\n", m.Name(), m.At, m.Within, math.Round(h*10)/10+0, math.Round(v*10)/10+0, m.From)
	}
	if h, t := r.Path.greatest(); t > 0 {
		fmt.Fprintf(b, "\ngreatest height %.1f m; %s\n", h, r.groundText())
	}
	r.checks(b)
	if r.Fit != nil {
		r.Fit.text(b)
	}
	for _, p := range r.Plan {
		fold(b, "  plan: ", p, width)
	}
	if len(r.Findings) == 0 {
		fmt.Fprintln(b, "\nnothing odd was found, which does not make the log a good one")
	}
	grave, trifles := r.Ranked()
	for _, i := range grave {
		r.Findings[i].text(b, width)
	}
	if len(trifles) > 0 {
		var titles []string
		for _, i := range trifles {
			titles = append(titles, r.Findings[i].Title())
		}
		fmt.Fprintln(b)
		fold(b, "trifles: ", "each would put a board's height off by less than "+fmt.Sprint(trifle)+" m: "+strings.Join(titles, "; "), width)
	}
	return b.Flush()
}

func (r *Result) groundText() string {
	g := r.Ground
	if g.Pressure == 0 {
		return "no pressure in the log"
	}
	return fmt.Sprintf("pad at %.0f Pa and %.1f degC (%s)", g.Pressure, g.Temperature-273.15, g.Assumed)
}

func (p *Path) greatest() (h, t float64) {
	h = math.Inf(-1)
	for i := range p.T {
		if p.Height[i] > h {
			h, t = p.Height[i], p.T[i]
		}
	}
	return h, t
}

// checks says which sensors' innovations are not as the smoother expects them.
func (r *Result) checks(b *bufio.Writer) {
	fmt.Fprintf(b, "\n%-15s %9s %8s %10s %14s\n", "innovations", "samples", "mean", "variance", "beyond 3 sigma")
	for _, c := range r.Checks {
		fmt.Fprintf(b, "%-15s %9d %8.3f %10.3f %13.2f%%\n", sim.PartNames()[c.Part-1], c.N, c.Mean, c.Variance, 100*c.Beyond)
	}
}

// Title says what a finding is, in one line.
func (f *Finding) Title() string {
	name := "every part"
	if f.Part > 0 {
		name = sim.PartNames()[f.Part-1]
	}
	if f.Axis != sim.AllAxes {
		name += " " + f.Axis.String()
	}
	s := fmt.Sprintf("%s: %s at %.3f s +- %.3f s for %.3f s", name, f.Kind, f.From, f.Within, f.Until-f.From)
	if f.Size != 0 {
		s += fmt.Sprintf(", %s", sized(f))
	}
	return s
}

// sized gives a finding's size with its uncertainty and unit.
func sized(f *Finding) string {
	size := fmt.Sprintf("%.3g", f.Size)
	if math.Abs(f.Size) >= 100 {
		size = fmt.Sprintf("%.0f", f.Size)
	}
	return fmt.Sprintf("%s +- %.2g %s", size, f.SizeWithin, f.unit())
}

func (f *Finding) text(b *bufio.Writer, width int) {
	fmt.Fprintf(b, "\n%s\n", f.Title())
	for _, x := range f.Explanations {
		fmt.Fprintf(b, "  %9s  %s\n", belief(x.Share), x.Cause)
		for _, s := range x.For {
			fold(b, "             + ", s, width)
		}
		for _, s := range x.Against {
			fold(b, "             - ", s, width)
		}
	}
}

// belief gives a share in percent; none is ever nothing or all.
func belief(share float64) string {
	if share < 0.01 {
		return "under 1 %"
	}
	return fmt.Sprintf("%.0f %%", 100*share)
}

// fold writes a text in lines no wider than asked for.
func fold(b *bufio.Writer, lead, text string, width int) {
	at := 0
	for i, word := range strings.Fields(text) {
		if i == 0 || at+1+len(word) > width {
			if i > 0 {
				b.WriteString("\n")
				lead = strings.Repeat(" ", len(lead))
			}
			b.WriteString(lead)
			at = len(lead) - 1
		} else {
			b.WriteString(" ")
		}
		b.WriteString(word)
		at += 1 + len(word)
	}
	b.WriteString("\n")
}
