// Package hunt searches declared ranges for the worst case, and shrinks it to the values that matter. It asks for flights
// and gets their scores; it doesn't fly, judge or open files. The same options and scores give the same search, with any
// number of flights at a time.
package hunt

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"drystage/harness"
	"drystage/sim/noise"
)

// Point is one flight to try: a point in the unit box, with one coordinate for each varied parameter, and the number of a
// seed, from 0.
type Point struct {
	At   []float64
	Seed int
}

// Score is the result of one criterion: fail is worse than unsure, and unsure worse than pass; among equals the smaller
// margin share is worse. A criterion is an expectation, or the run itself.
type Score struct {
	Answer harness.Answer
	Share  float64
}

// Compare is negative when m is worse than o.
func (m Score) Compare(o Score) int {
	return cmp.Or(m.Answer.Compare(o.Answer), cmp.Compare(m.Share, o.Share))
}

// Worse says that m is worse than o.
func (m Score) Worse(o Score) bool { return m.Compare(o) < 0 }

// Scores gives the score of each expectation of a plan from its verdict, and last that of the run itself: unsure if there
// are doubts. A fail without a margin, such as an output that never switched on, is worse than any with one.
func Scores(v *harness.Verdict, expectations int) []Score {
	out := make([]Score, expectations+1)
	out[expectations] = Score{harness.Pass, math.Inf(1)}
	for i, f := range v.Findings {
		m := Score{f.Answer, f.Share}
		if !f.HasMargin || math.IsNaN(f.Share) {
			m.Share = [...]float64{harness.Fail: math.Inf(-1), harness.Unsure: 0, harness.Pass: math.Inf(1)}[f.Answer]
		}
		i = min(i, expectations)
		if i < expectations || m.Worse(out[i]) {
			out[i] = m
		}
	}
	return out
}

// Flight is a point that was flown, with the score of each criterion.
type Flight struct {
	Point
	Scores []Score
}

// Options say what to search, and for how long.
type Options struct {
	Own     []float64 // the point of the files' own values; it may be outside of the box
	Seeds   int       // to try, at least 1
	Flights int       // at most
	Seed    uint64    // of the search's own random numbers
	Only    int       // the only criterion to search for, from 1; 0: all
	// Population is how many flights each generation of a population has that searches in place of local searches; 0: none does.
	Population int
	UntilFail  bool // stop after the first flights that fail
}

// Search looks for the worst score of every criterion. It flies the files' own values, corners of the box and a
// space-filling design. Then it searches locally from the worst flight of one criterion after the other, the worst
// criterion first, or with a population from there. fly gets some points at a time and gives their scores in the same order.
func Search(opt Options, fly func([]Point) ([][]Score, error)) ([]Flight, error) {
	h := &searcher{opt: opt, flyPoints: fly, dims: len(opt.Own), random: noise.New(opt.Seed, "hunt"), asked: map[string]int{}}
	err := h.search()
	return h.flown, err
}

// Worst gives the flight with the worst score of a criterion, the first of equals; -1 if nothing was flown.
func Worst(flights []Flight, criterion int) int {
	worst := -1
	for i := range flights {
		if worst < 0 || flights[i].Scores[criterion].Worse(flights[worst].Scores[criterion]) {
			worst = i
		}
	}
	return worst
}

type searcher struct {
	opt       Options
	flyPoints func([]Point) ([][]Score, error)
	dims      int
	random    *noise.Stream
	flown     []Flight
	asked     map[string]int // the index of the flight at a point
	searched  map[int][]int  // by criterion, the flights at which local searches began and ended
}

// The start of a search, with at most half of its flights: pointsPerRange points for each range (J. L. Loeppky,
// J. Sacks, W. J. Welch, Technometrics 51(4), 2009, pages 366-376, recommend about ten) and some corners.
const (
	maxCorners     = 64
	pointsPerRange = 10
)

func (h *searcher) search() error {
	quarter := h.opt.Flights / 4
	start := append([]Point{{h.opt.Own, 0}}, h.seeded(corners(h.dims, min(quarter, maxCorners)))...)
	start = append(start, h.seeded(hypercube(h.dims, max(min(quarter, pointsPerRange*h.dims), 1), h.random))...)
	if err := h.fly(start, true); err != nil {
		return err
	}
	h.searched = map[int][]int{}
	for !h.done() {
		criterion, from, ok := h.next()
		if !ok {
			if err := h.fly(h.seeded(hypercube(h.dims, 2*h.dims+1, h.random)), true); err != nil {
				return err
			}
			continue
		}
		search := h.localSearch
		if h.opt.Population > 0 {
			search = h.evolve
		}
		if err := search(criterion, from); err != nil {
			return err
		}
	}
	return nil
}

// done says that the search is over.
func (h *searcher) done() bool {
	if h.opt.UntilFail {
		for _, f := range h.flown {
			for d, m := range f.Scores {
				if m.Answer == harness.Fail && h.isSearched(d) {
					return true
				}
			}
		}
	}
	return len(h.flown) >= h.opt.Flights
}

func (h *searcher) isSearched(criterion int) bool {
	return h.opt.Only == 0 || criterion == h.opt.Only-1
}

// seeded gives the points their seeds, in turn.
func (h *searcher) seeded(places [][]float64) []Point {
	out := make([]Point, len(places))
	for i, at := range places {
		out[i] = Point{at, i % h.opt.Seeds}
	}
	return out
}

// key names a point, to the digits that a flight can have.
func key(p Point) string { return fmt.Sprintf("%d %.6f", p.Seed, p.At) }

// batch is how many flights of the start are flown before the search checks whether it is done.
const batch = 16

// fly flies those of some points that were not flown yet, as far as the budget goes.
func (h *searcher) fly(points []Point, inParts bool) error {
	for len(points) > 0 && !h.done() {
		n := len(points)
		if inParts {
			n = min(n, batch)
		}
		var fresh []Point
		for _, p := range points[:n] {
			at := key(p)
			if _, twice := h.asked[at]; twice || len(h.flown)+len(fresh) >= h.opt.Flights {
				continue
			}
			h.asked[at] = len(h.flown) + len(fresh)
			fresh = append(fresh, p)
		}
		points = points[n:]
		if len(fresh) == 0 {
			continue
		}
		merits, err := h.flyPoints(fresh)
		for i, m := range merits {
			h.flown = append(h.flown, Flight{fresh[i], m})
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// minDistance is the smallest distance of the start of a local search from the start and end of others of the same
// criterion.
const minDistance = 0.25

// next gives the next criterion to search for, and the flight to begin at: the worst of the criteria that were searched
// the least often. A criterion with the same score in every flight is left out.
func (h *searcher) next() (criterion, from int, ok bool) {
	for d := range h.flown[0].Scores {
		if !h.isSearched(d) || h.constant(d) {
			continue
		}
		i := h.start(d)
		if i < 0 {
			continue
		}
		better := len(h.searched[d]) - len(h.searched[criterion])
		if !ok || better < 0 || better == 0 && h.flown[i].Scores[d].Worse(h.flown[from].Scores[criterion]) {
			criterion, from, ok = d, i, true
		}
	}
	return criterion, from, ok
}

func (h *searcher) constant(criterion int) bool {
	first := h.flown[0].Scores[criterion]
	return !slices.ContainsFunc(h.flown, func(f Flight) bool { return f.Scores[criterion] != first })
}

// start gives the worst flight of a criterion that isn't near another search's start or end; -1 if there is none, or if
// nothing could be worse than what was found.
func (h *searcher) start(criterion int) int {
	best := -1
	if m := h.flown[Worst(h.flown, criterion)].Scores[criterion]; m.Answer == harness.Fail && math.IsInf(m.Share, -1) {
		return best
	}
	for i, f := range h.flown {
		close := slices.ContainsFunc(h.searched[criterion], func(t int) bool { return distance(h.flown[t].At, f.At) < minDistance })
		if !close && (best < 0 || f.Scores[criterion].Worse(h.flown[best].Scores[criterion])) {
			best = i
		}
	}
	return best
}

// distance is the largest of the differences.
func distance(a, b []float64) float64 {
	d := 0.0
	for i := range a {
		d = max(d, math.Abs(a[i]-b[i]))
	}
	return d
}
