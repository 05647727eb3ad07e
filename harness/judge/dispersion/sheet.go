// Package dispersion evaluates the verdicts of many flights with random differences: how many pass, with which
// confidence, the distribution of the margins, and which parameters drive them. It doesn't fly, judge or print.
package dispersion

import (
	"math"
	"slices"

	"drystage/harness"
)

// Sheet collects the verdicts of the flights of one sweep: a few numbers of each flight, not its record.
type Sheet struct {
	Plan    harness.Plan // the sweep's, not a flight's
	Wanted  int          // planned flights; 0: as many as were flown
	Points  harness.Points
	Flights []Flight
	Doubts  []Doubt // about the runs themselves
	// Closest is the index of the flight with the smallest margin share of all, Near that among the flights that
	// passed; -1 if there is none with a margin.
	Closest, Near int
	Units         []string // of the expectations' margins, as far as any flight had one

	// Further are the answers of flights beside the drawn ones: those for Sobol indices and for rare failures.
	Further harness.Count
	Rare    *Rare // nil: was not asked for

	answers harness.Count // of the flights
	mixed   [][]float64   // margins of the flights that Mixed lists
}

// Flight holds the numbers of one flight.
type Flight struct {
	Number  int // from 1
	Seed    uint64
	Answer  harness.Answer
	Values  []harness.Value // as drawn, in the order of the plan's Vary
	Answers []harness.Answer
	Margins []float64 // of the expectations; NaN where nothing could be measured
	Share   float64   // the smallest of its margins, as a share of its limit; NaN when there is none
	Landed  []Place   // one a stage
}

// Place is where a stage has landed, in m east and north of the pad; OK is false of one that was not down at the end.
type Place struct {
	East, North float64
	OK          bool
}

// Places gives the places at which the stages of a record lie at its end. Stages that come down as one have one place.
func Places(rec *harness.Record) []Place {
	n := len(rec.Plan.Setup.Vehicle.Stages)
	list := make([]Place, n)
	if rec.Ticks() == 0 || len(rec.States) < n*rec.Ticks() {
		return list
	}
	for i := range list {
		st := rec.State(rec.Ticks()-1, i)
		list[i] = Place{st.Position.X, st.Position.Y, st.Landed && !math.IsNaN(st.Position.X+st.Position.Y)}
	}
	return list
}

// Doubt is a finding about the run itself in some flights.
type Doubt struct {
	Text   string
	Answer harness.Answer
	Reason string // of the first
	First  int    // the flight's number
	Count  int
}

// NewSheet gives an empty sheet for a plan's sweep.
func NewSheet(p *harness.Plan) *Sheet {
	return &Sheet{Plan: *p, Closest: -1, Near: -1, Units: make([]string, len(p.Expect))}
}

// Add adds the verdict of a flight, whose plan was made by vary.Plan. near says that it passed, closer to a limit than
// any that passed before.
func (s *Sheet) Add(number int, flown *harness.Plan, v *harness.Verdict) (near bool) {
	n := len(s.Plan.Expect)
	f := Flight{
		Number: number, Seed: flown.Setup.Seed, Answer: v.Answer,
		Answers: make([]harness.Answer, n), Margins: make([]float64, n), Share: math.NaN(),
	}
	for _, x := range s.Plan.Vary {
		if i := slices.IndexFunc(flown.Set, func(y harness.Value) bool { return y.Name == x.Name }); i >= 0 {
			f.Values = append(f.Values, flown.Set[i])
		}
	}
	for i := range f.Margins {
		f.Margins[i] = math.NaN()
	}
	for i := range v.Findings {
		g := &v.Findings[i]
		if i >= n {
			s.doubt(number, g)
			continue
		}
		f.Answers[i] = g.Answer
		if g.HasMargin && !math.IsInf(g.Margin, 0) {
			f.Margins[i], s.Units[i] = g.Margin, g.Unit
		}
	}
	if g, ok := v.Closest(); ok && !math.IsNaN(g.Share) {
		f.Share = g.Share
		if s.Closest < 0 || f.Share < s.Flights[s.Closest].Share {
			s.Closest = len(s.Flights)
		}
		if near = v.Answer == harness.Pass && (s.Near < 0 || f.Share < s.Flights[s.Near].Share); near {
			s.Near = len(s.Flights)
		}
	}
	s.Flights = append(s.Flights, f)
	s.answers.Add(v.Answer)
	return near
}

// doubt counts a finding about the run itself, by its text and answer.
func (s *Sheet) doubt(number int, g *harness.Finding) {
	if g.Answer == harness.Pass {
		return
	}
	i := slices.IndexFunc(s.Doubts, func(d Doubt) bool { return d.Text == g.Text && d.Answer == g.Answer })
	if i < 0 {
		i = len(s.Doubts)
		s.Doubts = append(s.Doubts, Doubt{Text: g.Text, Answer: g.Answer, Reason: g.Reason, First: number})
	}
	s.Doubts[i].Count++
}

// Count says how many flights passed, failed and were unsure.
func (s *Sheet) Count() harness.Count { return s.answers }

// Drawn says which flight of the sweep a flight is.
func (s *Sheet) Drawn(f *Flight) harness.Drawn {
	return harness.Drawn{Seed: s.Plan.Setup.Seed, Flight: f.Number, Points: s.Points}
}

// Tight says that the 95 % interval of the pass rate is at most so wide. A sweep that stops then, after the first flight at which
// it is so, has an interval that holds the true rate hardly less often (Y. S. Chow, H. Robbins, "On the asymptotic theory of
// fixed-width sequential confidence intervals", Annals of Mathematical Statistics 36, 1965): a test measures it.
func (s *Sheet) Tight(width float64) bool {
	low, high := Interval(s.answers.Pass, len(s.Flights))
	return high-low <= width
}

// NotFlown is how many planned flights were not flown.
func (s *Sheet) NotFlown() int { return max(0, s.Wanted-len(s.Flights)) }

// Answer is that of the whole sweep: fail before unsure before pass, and unsure when flights are missing.
func (s *Sheet) Answer() harness.Answer {
	c := s.answers
	c.Pass, c.Fail, c.Unsure = c.Pass+s.Further.Pass, c.Fail+s.Further.Fail, c.Unsure+s.Further.Unsure+s.NotFlown()
	return c.Answer()
}
