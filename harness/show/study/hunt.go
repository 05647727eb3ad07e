package study

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"drystage/harness"
	"drystage/harness/judge/hunt"
	"drystage/harness/show/chart"
	"drystage/harness/show/report"
	"drystage/harness/vary"
)

type huntView struct {
	head
	Name, File, Searched, Text   string
	Why, Margin, Edge, Case, How string
	Worst                        []worstRow
	Plane                        *figure
	Ranges                       []figure
	Scenario                     string
}

// worstRow is the worst that was met of one expectation.
type worstRow struct {
	Answer, Share, Text string
	Flight              int
}

// Hunt writes the page of a search: the worst that it met, the boundary between pass and fail, and every flight of the
// search against each range. scenario is the text of the shrunk case.
func Hunt(w io.Writer, f *hunt.Result, scenario string, opt report.Options) error {
	if len(f.Flights) == 0 {
		return report.ErrEmpty
	}
	x := f.Finding()
	v := huntView{head: newHead(f.Answer(), "The worst of "+f.Plan.Name, opt.Seats), Name: f.Plan.Name, File: f.Plan.File, Text: x.Text, Why: x.Reason,
		Margin: report.MarginText(&x), Scenario: scenario, How: f.Command, Case: fmt.Sprintf("seed %d", f.Case.Seed)}
	v.Searched = fmt.Sprintf("%s through %s; %d more to shrink the worst", plural(len(f.Flights), "flight"), plural(len(f.Space.Vary), "range"), f.Extra)
	for _, c := range f.Case.Values {
		v.Case += ", " + c.Name + " " + vary.Brief(c)
	}
	if len(f.Case.Without) > 0 {
		v.Case += ", without " + strings.Join(f.Case.Without, ", ")
	}
	if f.Edge.Found {
		v.Edge = fmt.Sprintf("From %s %s, as the file has it, the answer changes between %s and %s.", f.Edge.Own.Name, vary.Brief(f.Edge.Own), vary.Brief(f.Edge.Before), vary.Brief(f.Edge.After))
	}
	criteria := make([]int, len(f.Flights[0].Scores))
	for d := range criteria {
		criteria[d] = d
	}
	worst := func(d int) hunt.Score { return f.Flights[hunt.Worst(f.Flights, d)].Scores[d] }
	slices.SortStableFunc(criteria, func(a, b int) int { return worst(a).Compare(worst(b)) })
	for _, d := range criteria {
		v.Worst = append(v.Worst, worstOf(f, d))
	}
	s := newHuntSpace(f)
	v.Plane = s.plane()
	for i := range f.Space.Vary {
		v.Ranges = append(v.Ranges, s.against(i))
	}
	return write(w, "hunt", &v)
}

// worstOf is the worst flight of one criterion.
func worstOf(f *hunt.Result, d int) worstRow {
	i := hunt.Worst(f.Flights, d)
	m := f.Flights[i].Scores[d]
	r := worstRow{Answer: m.Answer.String(), Share: "\u2013", Text: "the run itself is whole", Flight: i + 1}
	if m.Answer != harness.Unsure && !math.IsInf(m.Share, 0) {
		r.Share = report.Percent(m.Share)
	}
	if d < len(f.Plan.Expect) {
		r.Text = f.Plan.Expect[d].Text
	}
	return r
}

// huntSpace is the flights of a search as dots: the values of their ranges, and how the criterion of the worst came out.
type huntSpace struct {
	*hunt.Result
	dots []huntDot
}

type huntDot struct {
	values []float64 // in the order of the ranges, in the units of their axes
	score  hunt.Score
	flight int
}

func newHuntSpace(f *hunt.Result) *huntSpace {
	s := &huntSpace{Result: f}
	for i := range f.Flights {
		d := huntDot{score: f.Flights[i].Scores[f.Criterion], flight: i + 1}
		for k := range f.Space.Vary {
			low, high := s.likely(k)
			d.values = append(d.values, low+f.Flights[i].At[k]*(high-low))
		}
		s.dots = append(s.dots, d)
	}
	// The worst are drawn last, above the others, and of too many the best are left out.
	slices.SortStableFunc(s.dots, func(a, b huntDot) int { return b.score.Compare(a.score) })
	s.dots = s.dots[max(0, len(s.dots)-mostDots):]
	return s
}

// clipped is a share that a picture can show: a failure or a pass without a margin lies at an edge.
func clipped(m hunt.Score) float64 {
	if math.IsNaN(m.Share) {
		return 0
	}
	return 100 * min(max(m.Share, -1.5), 1.5)
}

// axis gives a value of range i as its axis shows it.
func (s *huntSpace) axis(i int, x float64) float64 {
	x, _ = vary.Usual(harness.Value{Value: x, Unit: s.Space.Vary[i].Unit})
	return x
}

// likely is what range i goes through, as its axis shows it.
func (s *huntSpace) likely(i int) (low, high float64) {
	low, high = s.Space.Vary[i].Likely()
	return s.axis(i, low), s.axis(i, high)
}

// name is that of range i with the unit of its axis.
func (s *huntSpace) name(i int) string {
	v := &s.Space.Vary[i]
	_, symbol := vary.Usual(harness.Value{Unit: v.Unit})
	return report.Plain(v.Name) + ", " + chart.Typeset(symbol)
}

// edges are the values on both sides of the boundary, if that is one of range i.
func (s *huntSpace) edges(i int) []float64 {
	if !s.Edge.Found || s.Edge.Own.Name != s.Space.Vary[i].Name {
		return nil
	}
	return []float64{s.axis(i, s.Edge.Before.Value), s.axis(i, s.Edge.After.Value)}
}

func (d *huntDot) text() string {
	return fmt.Sprintf("flight %d of the search, %s", d.flight, d.score.Answer)
}

// against draws the margin against one range, with the edge if it is one of this range.
func (s *huntSpace) against(i int) figure {
	low, high := s.likely(i)
	from, to := [2]float64{low, 0}, [2]float64{high, 0}
	for _, d := range s.dots {
		from[0], to[0] = min(from[0], d.values[i]), max(to[0], d.values[i])
		from[1], to[1] = min(from[1], clipped(d.score)), max(to[1], clipped(d.score))
	}
	f := draw(s.name(i), "margin of every flight of the search against "+s.name(i), func(width float64) *chart.Chart {
		p := chart.NewPlane(width, 190, from, to, false)
		p.Grid(s.name(i), "margin, %")
		for _, x := range s.edges(i) {
			p.Path("edge", [][2]float64{{x, from[1]}, {x, to[1]}}, false)
		}
		for k := range s.dots {
			d := &s.dots[k]
			p.Dot("dot "+d.score.Answer.String(), d.values[i], clipped(d.score), 3, d.text())
		}
		return p.Chart
	})
	f.Legend = s.legend(len(s.edges(i)) > 0)
	return f
}

func (s *huntSpace) legend(edge bool) []key {
	list := []key{{"pass", "passed"}, {"fail", "failed"}, {"unsure", "unsure"}}
	if edge {
		list = append(list, key{"edge", "boundary"})
	}
	return list
}

// plane draws two ranges against each other: those that the shrunk case needs, or the first two; nil with only one.
func (s *huntSpace) plane() *figure {
	var pair []int
	for _, c := range s.Case.Values {
		if i := slices.IndexFunc(s.Space.Vary, func(v harness.Vary) bool { return v.Name == c.Name }); i >= 0 && len(pair) < 2 {
			pair = append(pair, i)
		}
	}
	for i := 0; len(pair) < 2 && i < len(s.Space.Vary); i++ {
		if !slices.Contains(pair, i) {
			pair = append(pair, i)
		}
	}
	if len(pair) < 2 {
		return nil
	}
	a, b := pair[0], pair[1]
	var low, high [2]float64
	low[0], high[0] = s.likely(a)
	low[1], high[1] = s.likely(b)
	f := draw("Where it fails", "every flight of the search by two of its ranges", func(width float64) *chart.Chart {
		p := chart.NewPlane(width, 340, low, high, false)
		p.Grid(s.name(a), s.name(b))
		for _, x := range s.edges(a) {
			p.Path("edge", [][2]float64{{x, low[1]}, {x, high[1]}}, false)
		}
		for _, y := range s.edges(b) {
			p.Path("edge", [][2]float64{{low[0], y}, {high[0], y}}, false)
		}
		for k := range s.dots {
			d := &s.dots[k]
			p.Dot("dot "+d.score.Answer.String(), d.values[a], d.values[b], 4, d.text())
		}
		return p.Chart
	})
	f.Legend = s.legend(len(s.edges(a))+len(s.edges(b)) > 0)
	return &f
}
