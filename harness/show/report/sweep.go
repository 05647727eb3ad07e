package report

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"drystage/harness"
	"drystage/harness/judge/dispersion"
	"drystage/harness/vary"
)

// Sweep writes what the flights of sweeps tell, each of them with: what varied, how many flights passed and
// what that proves, each expectation's margins as numbers and bars with what drives them, and the flights
// that came out worst with the line that flies them again. A sweep without a flight is an error.
func Sweep(w io.Writer, sheets []*dispersion.Sheet, opt Options) error {
	p := newPage(w, opt)
	p.boards(opt.Seats)
	for i, s := range sheets {
		if len(s.Flights) == 0 && s.NotFlown() == 0 {
			return ErrEmpty
		}
		if i > 0 {
			p.line("")
		}
		p.sweep(s)
	}
	if len(sheets) == 0 {
		return ErrEmpty
	}
	p.line("")
	p.item("", 0, "Such flights are simulated ones, drawn from the declared ranges. A simulation is no permission to fly: your safety code and your range safety officer decide.")
	return p.end("flown")
}

func (p *page) sweep(s *dispersion.Sheet) {
	p.item("", 0, s.Plan.Name+": "+s.Plan.Title)
	p.line("%s of %s from seed %d", flown(s), Plain(s.Plan.File), s.Plan.Setup.Seed)
	if s.Points == harness.Sobol {
		p.item("", 0, PointsText)
	}
	if len(s.Flights) == 0 {
		p.rate(s)
		return
	}
	p.varied(s)
	p.line("")
	p.rate(s)
	outcomes := s.Outcomes()
	noise, indexed := 0.0, false
	for i := range outcomes {
		p.outcome(&outcomes[i], s)
		indexed = indexed || len(outcomes[i].Indices) > 0
		if len(outcomes[i].Drivers) > 0 {
			noise = max(noise, outcomes[i].NoiseBound)
		}
	}
	if noise > 0 {
		p.line("")
		p.item("", 0, fmt.Sprintf("driven by: Spearman's rank correlation of what varied with the margin; + is a margin that grows with it. What has nothing to do with a margin gets beyond %.2f once in 100 times.", noise))
	}
	if indexed {
		p.item("", 0, IndexDoc)
	}
	p.rare(s)
	for _, d := range s.Doubts {
		p.line("")
		p.item(p.answer(d.Answer, 8), 8, fmt.Sprintf("%s, in %s, first in flight %d: %s", d.Text, plural(d.Count, "flight"), d.First, d.Reason))
	}
	p.worst(s, outcomes)
}

// PointsText says what points of a Sobol sequence are.
const PointsText = "The values are points of a scrambled Sobol sequence, more even than independent ones: the interval below, which is that of independent flights, is rather too wide than too narrow."

// varied writes what differed, by which law, and what was drawn.
func (p *page) varied(s *dispersion.Sheet) {
	if len(s.Plan.Vary) == 0 {
		p.item("", 0, "nothing varied but the seed; `vary` in the scenario says what may (drystage explain vary)")
		return
	}
	p.line("")
	name, law := len("varied"), len("law")
	for i := range s.Plan.Vary {
		v := &s.Plan.Vary[i]
		name, law = max(name, len(v.Name)), max(law, len(vary.LawText(v)))
	}
	p.line("%s", truncate(fmt.Sprintf("%-*s  %-*s  drawn", name, "varied", law, "law"), p.width))
	for i := range s.Plan.Vary {
		v := &s.Plan.Vary[i]
		low, high := math.Inf(1), math.Inf(-1)
		for k := range s.Flights {
			if x := s.Flights[k].Values; i < len(x) {
				low, high = min(low, x[i].Value), max(high, x[i].Value)
			}
		}
		text := func(x float64) string { return vary.Brief(harness.Value{Value: x, Unit: v.Unit}) }
		p.line("%s", truncate(fmt.Sprintf("%-*s  %-*s  %s to %s", name, v.Name, law, vary.LawText(v), text(low), text(high)), p.width))
	}
	if text := CorrelatedText(&s.Plan); text != "" {
		p.item("", 0, text)
	}
}

// CorrelatedText lists what doesn't vary independently.
func CorrelatedText(plan *harness.Plan) string {
	var list []string
	for _, c := range plan.Correlated {
		list = append(list, fmt.Sprintf("%s with %s %+.2g", c.Pair[0], c.Pair[1], c.Rho))
	}
	if len(list) == 0 {
		return ""
	}
	return "rank correlations: " + strings.Join(list, ", ")
}

// rate writes how many passed, and what that proves.
func (p *page) rate(s *dispersion.Sheet) {
	c := s.Count()
	word := strings.ToUpper(s.Answer().String())
	text := fmt.Sprintf("%s: %s", flown(s), c)
	if n := s.NotFlown(); n > 0 {
		text += fmt.Sprintf("; %d not flown", n)
	}
	if n := s.Further.All(); n > 0 {
		text += fmt.Sprintf("; of %s beside them %s", plural(n, "flight"), s.Further)
	}
	p.item(p.colored(s.Answer(), word)+" ", len(word)+1, text)
	if c.All() > 0 {
		p.item("", 0, proof(c.Pass, c.All(), c.Unsure))
	}
}

// flown says how many flights were flown, and of how many where some are missing.
func flown(s *dispersion.Sheet) string {
	if s.NotFlown() > 0 {
		return fmt.Sprintf("%d of %s", len(s.Flights), plural(s.Wanted, "flight"))
	}
	return plural(len(s.Flights), "flight")
}

// PassRate says how many flights of a sweep passed, and what that proves.
func PassRate(s *dispersion.Sheet) string {
	c := s.Count()
	return proof(c.Pass, c.All(), c.Unsure)
}

// proof says what the number of flights that passed proves of all flights that could be drawn.
func proof(passed, n, unsure int) string {
	low, high := dispersion.Interval(passed, n)
	if passed == n {
		return fmt.Sprintf("0 failures in %s prove, with 95 %% confidence, that at least %s of such flights pass (one-sided; two-sided: %s to 100 %%, Clopper-Pearson).",
			plural(n, "flight"), share(dispersion.AtLeast(n, n), math.Floor), share(low, math.Floor))
	}
	text := fmt.Sprintf("passed: %s; with 95 %% confidence %s to %s of such flights pass (two-sided, Clopper-Pearson).",
		share(float64(passed)/float64(n), math.Floor), share(low, math.Floor), share(high, math.Ceil))
	if unsure > 0 {
		text += " Unsure counts as not passed."
	}
	return text
}

// share writes a share in percent with one decimal, or with two where one would show no difference from all
// or nothing. way rounds bounds to their careful side.
func share(x float64, way func(float64) float64) string {
	decimals := 1
	if x > 0.99 && x < 1 || x > 0 && x < 0.01 {
		decimals = 2
	}
	ten := math.Pow(10, float64(decimals))
	return strconv.FormatFloat(way(x*100*ten)/ten, 'f', decimals, 64) + " %"
}

// outcome writes what all flights say of one expectation.
func (p *page) outcome(o *dispersion.Outcome, s *dispersion.Sheet) {
	p.line("")
	answer := o.Answer()
	p.item(p.answer(answer, 8), 8, o.Text)
	worst := ""
	if o.Worst >= 0 && (o.Fail+o.Unsure > 0 || len(o.Bins) > 1) {
		worst = fmt.Sprintf("; worst is flight %d", s.Flights[o.Worst].Number)
	}
	p.item("        ", 8, o.Count.String()+worst)
	if o.Measured == 0 {
		return
	}
	num := func(x float64) string { return Margin(&harness.Finding{Margin: x, Unit: o.Unit}) }
	of := ""
	if o.Measured < len(s.Flights) {
		of = fmt.Sprintf(" (of %d with a margin)", o.Measured)
	}
	p.item("        ", 8, fmt.Sprintf("margin: smallest %s, 5 %% %s, median %s%s", num(o.Least), num(o.Percentile5), num(o.Median), of))
	p.bars(o)
	if len(o.Drivers) > 0 {
		var list []string
		for _, d := range o.Drivers {
			list = append(list, fmt.Sprintf("%s %+.2f", d.Name, d.Rho))
		}
		p.item("        driven by: ", 19, strings.Join(list, ", "))
	}
	p.indices(o)
}

// bars draws the histogram of the margins.
func (p *page) bars(o *dispersion.Outcome) {
	if len(o.Bins) < 2 {
		return
	}
	edge := func(x float64) string { return strings.TrimPrefix(Margin(&harness.Finding{Margin: round(x, 6)}), "+") }
	wide, most := 0, 1
	for _, b := range o.Bins {
		wide, most = max(wide, len(edge(b.From)), len(edge(b.To))), max(most, b.Count)
	}
	digits := len(strconv.Itoa(most))
	room := max(10, p.width-len("         to     ")-2*wide-len(o.Unit)-digits-1)
	for _, b := range o.Bins {
		n := (b.Count*room + most - 1) / most
		line := fmt.Sprintf("        %*s to %*s %s  %*d  %s", wide, edge(b.From), wide, edge(b.To), o.Unit, digits, b.Count, strings.Repeat("#", n))
		p.line("%s", strings.TrimRight(truncate(line, p.width), " "))
	}
}

// worst writes the flight with the smallest margin of all, the first that didn't pass, and those that came out
// worst in an expectation that wasn't always met, each with what was drawn for it and the line that flies it again.
func (p *page) worst(s *dispersion.Sheet, outcomes []dispersion.Outcome) {
	var list []int
	note := func(i int) {
		if i >= 0 && !slices.Contains(list, i) {
			list = append(list, i)
		}
	}
	note(slices.IndexFunc(s.Flights, func(f dispersion.Flight) bool { return f.Answer != harness.Pass }))
	note(s.Closest)
	for i := range outcomes {
		if o := &outcomes[i]; o.Fail+o.Unsure > 0 {
			note(o.Worst)
		}
	}
	slices.Sort(list)
	if len(list) == 0 {
		return
	}
	p.line("")
	p.line("flights to look at")
	for _, i := range list {
		f := &s.Flights[i]
		var values []string
		for _, x := range f.Values {
			values = append(values, x.Name+" "+vary.Brief(x))
		}
		what := strings.Join(values, ", ")
		if i == s.Closest {
			what = strings.TrimSuffix("the smallest margin of all: "+what, ": ")
		}
		lead := fmt.Sprintf("  %-6d ", f.Number)
		p.item(lead+p.answer(f.Answer, 8), len(lead)+8, what)
		p.line("         repeat: %s", Repeat(&harness.Verdict{File: s.Plan.File, Drawn: s.Drawn(f)}, &p.opt))
	}
}
