package study

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"drystage/harness"
	"drystage/harness/judge/dispersion"
	"drystage/harness/show/chart"
	"drystage/harness/show/report"
	"drystage/harness/vary"
)

// mostDots is how many flights a picture shows; those that did not pass come first.
const mostDots = 2000

type sweepView struct {
	head
	Sweeps []sweepSection
}

// sweepSection is one sweep.
type sweepSection struct {
	Name, Title, File, Answer string
	Seed                      uint64
	Rate, Counts              string
	RateFigure                figure
	Varied                    []varied
	Outcomes                  []outcome
	Landings                  []landing
	Flights                   []flight
	More                      int // flights that are not listed
	Note, Rare, RareCase      string
}

type varied struct{ Name, Law string }

// outcome is what all flights say of an expectation.
type outcome struct {
	Text, Answer, Counts, Margins, Worst string
	Histogram, Drivers                   *figure
	Bound                                string
	Indices                              []dispersion.Index
}

// landing is where one body came down in all flights.
type landing struct {
	Figure  figure
	Words   []string
	Missing int
}

// flight is one flight, and the line that flies it again.
type flight struct {
	Number                 int
	Answer, Values, Repeat string
}

// Sweep writes the page of sweeps: how many passed and what that proves, the margins as distributions, what drives them, and
// where the flights landed.
func Sweep(w io.Writer, sheets []*dispersion.Sheet, opt report.Options) error {
	v := sweepView{}
	var all harness.Count
	flown, planned := 0, 0
	for _, s := range sheets {
		flown, planned = flown+len(s.Flights), planned+len(s.Flights)+s.NotFlown()
		all.Add(s.Answer())
		v.Sweeps = append(v.Sweeps, sweepOf(s, &opt))
	}
	if planned == 0 {
		return report.ErrEmpty
	}
	v.head = newHead(all.Answer(), plural(flown, "flight")+" within tolerances", opt.Seats)
	return write(w, "sweep", &v)
}

func sweepOf(s *dispersion.Sheet, opt *report.Options) sweepSection {
	x := sweepSection{Name: s.Plan.Name, Title: s.Plan.Title, File: s.Plan.File, Answer: s.Answer().String(), Seed: s.Plan.Setup.Seed, Counts: s.Count().String()}
	if n := s.NotFlown(); n > 0 {
		x.Note = fmt.Sprintf("%d of %d planned flights were not flown.", n, s.Wanted)
	}
	if n := s.Further.All(); n > 0 {
		x.Counts += fmt.Sprintf("; of %s beside them %s", plural(n, "flight"), s.Further)
	}
	if len(s.Flights) == 0 {
		return x
	}
	x.Rate = report.PassRate(s)
	x.RateFigure = draw("Share of flights that pass, with the 95 % interval", "pass rate: "+x.Rate, func(width float64) *chart.Chart { return rateChart(s, width) })
	for i := range s.Plan.Vary {
		x.Varied = append(x.Varied, varied{s.Plan.Vary[i].Name, vary.LawText(&s.Plan.Vary[i])})
	}
	if text := report.CorrelatedText(&s.Plan); text != "" {
		x.Varied = append(x.Varied, varied{"together", strings.TrimPrefix(text, "rank ")})
	}
	if s.Points == harness.Sobol {
		x.Note += " " + report.PointsText
	}
	outcomes := s.Outcomes()
	slices.SortStableFunc(outcomes, func(a, b dispersion.Outcome) int { return a.Answer().Compare(b.Answer()) }) // the worst first
	for i := range outcomes {
		x.Outcomes = append(x.Outcomes, outcomeOf(&outcomes[i], s))
	}
	if s.Rare != nil {
		x.Rare, x.RareCase = report.RareText(s), report.RareCase(s)
	}
	for i := range s.Plan.Setup.Vehicle.Stages {
		if l, ok := landingOf(s, i, opt); ok {
			x.Landings = append(x.Landings, l)
		}
	}
	order := worstFirst(s)
	for _, i := range order[:min(len(order), mostDots)] {
		x.Flights = append(x.Flights, flightOf(s, i, opt))
	}
	x.More = len(order) - len(x.Flights)
	return x
}

// worstFirst gives the flights, those first that did not pass, then by the smallest margin.
func worstFirst(s *dispersion.Sheet) []int {
	order := make([]int, len(s.Flights))
	for i := range order {
		order[i] = i
	}
	share := func(i int) float64 {
		if x := s.Flights[i].Share; !math.IsNaN(x) {
			return x
		}
		return math.Inf(1)
	}
	slices.SortStableFunc(order, func(a, b int) int {
		if d := s.Flights[a].Answer.Compare(s.Flights[b].Answer); d != 0 {
			return d
		}
		switch x, y := share(a), share(b); {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	return order
}

func flightOf(s *dispersion.Sheet, i int, opt *report.Options) flight {
	f := &s.Flights[i]
	x := flight{Number: f.Number, Answer: f.Answer.String(), Repeat: report.Repeat(&harness.Verdict{File: s.Plan.File, Drawn: s.Drawn(f)}, opt)}
	for k, v := range f.Values {
		if k > 0 {
			x.Values += ", "
		}
		x.Values += v.Name + " " + vary.Brief(v)
	}
	return x
}

func outcomeOf(o *dispersion.Outcome, s *dispersion.Sheet) outcome {
	x := outcome{Text: o.Text, Answer: o.Answer().String(), Counts: o.Count.String()}
	if o.Worst >= 0 && o.Fail+o.Unsure > 0 {
		x.Worst = fmt.Sprintf("; worst is flight %d", s.Flights[o.Worst].Number)
	}
	if o.Measured == 0 {
		return x
	}
	num := func(v float64) string { return report.Margin(&harness.Finding{Margin: v, Unit: o.Unit}) }
	x.Margins = fmt.Sprintf("margin: smallest %s, 5 %% %s, median %s", num(o.Least), num(o.Percentile5), num(o.Median))
	if len(o.Bins) > 1 {
		f := draw("Margins, "+unitWords(o.Unit), "histogram of the margins; left of 0 the expectation fails", func(width float64) *chart.Chart { return histogram(o, width) })
		x.Histogram = &f
	}
	x.Indices = o.Indices
	if len(o.Drivers) > 0 {
		f := draw("What drives it: rank correlation with the margin", "rank correlations of what varied with the margin", func(width float64) *chart.Chart { return drivers(o, width) })
		x.Drivers = &f
		x.Bound = fmt.Sprintf("Spearman's rank correlation; right of the middle the margin grows with it. What has nothing to do with a margin gets beyond %.2f once in 100 times.", o.NoiseBound)
	}
	return x
}

func unitWords(unit string) string {
	if unit == "" {
		return "a plain number"
	}
	return chart.Typeset(unit)
}

// rateChart draws the share of flights that pass as a point on a scale of 0 to 100 %, with its interval.
func rateChart(s *dispersion.Sheet, width float64) *chart.Chart {
	const left, right, line = 20.0, 20.0, 24.0
	c := chart.New(width, 62, 0, 1)
	n, pass := s.Count().All(), s.Count().Pass
	low, high := dispersion.Interval(pass, n)
	x := func(p float64) float64 { return left + p*(width-left-right) }
	for p := 0; p <= 100; p += 20 {
		c.Shape("grid", fmt.Sprintf("M%.1f 12V38", x(float64(p)/100)))
		c.Text("tick mid", x(float64(p)/100), 54, "start", fmt.Sprintf("%d %%", p))
	}
	c.Bar("interval", x(low), line-7, x(high)-x(low), 14, fmt.Sprintf("95 %% interval: %.2f %% to %.2f %%", 100*low, 100*high))
	c.Disc("rate", x(float64(pass)/float64(max(n, 1))), line, 5)
	return c
}

// histogram draws the bins of the margins.
func histogram(o *dispersion.Outcome, width float64) *chart.Chart {
	const top, tall, left, right = 16.0, 110.0, 34.0, 14.0
	c := chart.New(width, top+tall+26, 0, 1)
	low, high, most := o.Bins[0].From, o.Bins[len(o.Bins)-1].To, 1
	for _, b := range o.Bins {
		most = max(most, b.Count)
	}
	x := func(v float64) float64 { return left + (v-low)/(high-low)*(width-left-right) }
	skip := 1
	for float64(len(o.Bins))/float64(skip)*44 > width {
		skip++
	}
	for i, b := range o.Bins {
		class, h := "bin", tall*float64(b.Count)/float64(most)
		if b.To <= 0 {
			class = "bin bad"
		}
		c.Bar(class, x(b.From)+0.5, top+tall-h, x(b.To)-x(b.From)-1, h, fmt.Sprintf("%.6g to %.6g %s: %s", b.From, b.To, o.Unit, plural(b.Count, "flight")))
		if b.Count > 0 && x(b.To)-x(b.From) > 24 {
			c.Text("count mid", (x(b.From)+x(b.To))/2, top+tall-h-3, "start", fmt.Sprint(b.Count))
		}
		if i%skip == 0 {
			c.Text("tick mid", x(b.From), top+tall+15, "start", chart.Typeset(fmt.Sprintf("%.6g", b.From)))
		}
	}
	c.Shape("zero", fmt.Sprintf("M%.1f %.1fH%.1f", left, top+tall, width-right))
	if low < 0 && high > 0 {
		c.Shape("limit", fmt.Sprintf("M%.1f %.1fV%.1f", x(0), top-6, top+tall))
	}
	return c
}

// drivers draws the rank correlations as bars from the middle.
func drivers(o *dispersion.Outcome, width float64) *chart.Chart {
	const row = 30.0
	c := chart.New(width, row*float64(len(o.Drivers))+6, 0, 1)
	middle := width / 2
	for i, d := range o.Drivers {
		y := 4 + row*float64(i)
		c.Text("state", 8, y+10, "start", report.Plain(d.Name))
		c.Text("state end", width-8, y+10, "start", chart.Typeset(fmt.Sprintf(" %+.2f", d.Rho)))
		from, to := middle, middle+d.Rho*(middle-12)
		c.Bar("driver", min(from, to), y+14, math.Abs(to-from), 9, fmt.Sprintf("%s %+.2f", report.Plain(d.Name), d.Rho))
	}
	c.Shape("zero", fmt.Sprintf("M%.1f 0V%.1f", middle, row*float64(len(o.Drivers))+4))
	return c
}

// landingOf draws where a stage came down; ok is false if it never did, or always with the one above it.
func landingOf(s *dispersion.Sheet, stage int, opt *report.Options) (l landing, ok bool) {
	var points [][2]float64
	var at []int
	own := stage == 0
	for _, i := range worstFirst(s) {
		f := &s.Flights[i]
		if stage >= len(f.Landed) || !f.Landed[stage].OK {
			l.Missing++
			continue
		}
		p := f.Landed[stage]
		own = own || p != f.Landed[stage-1]
		points, at = append(points, [2]float64{p.East, p.North}), append(at, i)
	}
	if len(points) == 0 || !own {
		return l, false
	}
	name := report.Plain(s.Plan.Setup.Vehicle.Stages[stage].Name)
	half, hasHalf := dispersion.Prediction(points, 0.5)
	most, _ := dispersion.Prediction(points, 0.95)
	low, high := [2]float64{0, 0}, [2]float64{0, 0}
	outline := append([][2]float64{}, points...)
	if hasHalf {
		outline = append(outline, most.Outline(72)...)
	}
	for _, p := range outline {
		for k := range 2 {
			low[k], high[k] = min(low[k], p[k]), max(high[k], p[k])
		}
	}
	l.Figure = draw(name+": where it lands, m east and north of the pad", "map of the landings of "+name+" with the ellipses of 50 and 95 %", func(width float64) *chart.Chart {
		p := chart.NewPlane(width, 420, low, high, true)
		p.Grid("east, m", "north, m")
		if hasHalf {
			p.Path("ellipse most", most.Outline(72), true)
			p.Path("ellipse", half.Outline(72), true)
		}
		p.Dot("pad", 0, 0, 5, "the pad")
		for k := min(len(points), mostDots) - 1; k >= 0; k-- { // the worst above the others
			f := flightOf(s, at[k], opt)
			p.Dot("dot "+f.Answer, points[k][0], points[k][1], 3.5, fmt.Sprintf("flight %d, %s: %s", f.Number, f.Answer, report.Plain(f.Repeat)))
		}
		return p.Chart
	})
	l.Figure.Legend = []key{{"pass", "passed"}, {"fail", "failed"}, {"unsure", "unsure"}}
	if hasHalf {
		l.Figure.Legend = append(l.Figure.Legend, key{"ellipse", "50 %"}, key{"most", "95 %"})
		for _, e := range []struct {
			share int
			dispersion.Ellipse
		}{{50, half}, {95, most}} {
			l.Words = append(l.Words, fmt.Sprintf("%d %%: half axes %.0f m and %.0f m, the longer towards %03.0f deg, around %.0f m east and %.0f m north of the pad", e.share, e.Major, e.Minor, e.Bearing*180/math.Pi, e.East, e.North))
		}
		l.Words = append(l.Words, "A further flight of this sweep lands in an ellipse with that probability, if landings scatter by a normal law: look whether the dots do.")
	}
	return l, true
}
