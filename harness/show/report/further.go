package report

import (
	"fmt"
	"strconv"

	"drystage/harness/judge/dispersion"
	"drystage/harness/vary"
)

// indices writes the Sobol indices of an expectation's margin.
func (p *page) indices(o *dispersion.Outcome) {
	for i, x := range o.Indices {
		lead := "               "
		if i == 0 {
			lead = "        index: "
		}
		p.line("%s", truncate(lead+IndexText(&x), p.width))
	}
}

// IndexText writes the indices of one parameter with their intervals.
func IndexText(x *dispersion.Index) string {
	text := func(e dispersion.Estimate) string { return fmt.Sprintf("%.2f +- %.2f", e.Value, (e.High-e.Low)/2) }
	return fmt.Sprintf("%s: alone %s, in all %s", x.Name, text(x.First), text(x.Total))
}

// IndexDoc explains Sobol indices.
const IndexDoc = "index: Sobol indices, the shares of the margin's variance that go if a parameter is known (alone), and that stay if all others are known (in all, with what it does together with others), each +- half of its 95 % interval; seed is turbulence, noise and scatter."

// rare writes what the flights towards a rare failure tell.
func (p *page) rare(s *dispersion.Sheet) {
	if s.Rare == nil {
		return
	}
	p.line("")
	p.item("rare    ", 8, RareText(s))
	for i, l := range s.Rare.Levels {
		p.line("        level %d: %s nearer than %s of a limit", i+1, share(l.Share, func(x float64) float64 { return x }), Percent(l.Limit))
	}
	p.item("        ", 8, "nearest of all, as a scenario: "+RareCase(s))
}

// RareText says how probable a rare failure is.
func RareText(s *dispersion.Sheet) string {
	r := s.Rare
	what := "doesn't pass"
	if r.Of > 0 {
		what = "doesn't meet: " + s.Plan.Expect[r.Of-1].Text
	}
	number := func(x float64) string { return strconv.FormatFloat(x, 'g', 2, 64) }
	if r.Ended {
		return fmt.Sprintf("no flight of %d was one that %s; the flights gave no way to go on, and at most about %s of such flights are (subset simulation, Au and Beck 2001)", r.Flights, what, number(r.High))
	}
	return fmt.Sprintf("a flight %s, with probability %s; 95 %% interval %s to %s (subset simulation, Au and Beck 2001, by %d flights)", what, number(r.Value), number(r.Low), number(r.High), r.Flights)
}

// RareCase is the flight nearest to failing, or that failed worst, as keys of a scenario.
func RareCase(s *dispersion.Sheet) string {
	return fmt.Sprintf("{like: %s, seed: %d, set: %s}", Plain(s.Plan.File), s.Rare.Worst.Seed, vary.Texts(s.Rare.Values))
}
