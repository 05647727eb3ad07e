package dispersion

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"

	"drystage/harness"
	"drystage/sim/noise"
)

// State is one flight of a search for rare failures: the independent standard normal scores of its varied parameters
// (vary.At), its seed, and how far it is from not passing: at 0 or below it doesn't pass.
type State struct {
	Scores []float64
	Seed   uint64
	Limit  float64

	root int // the flight of the first level that it comes from
}

// Rare is the estimated probability of a rare failure.
type Rare struct {
	Estimate
	Variation float64 // coefficient of variation of the estimate
	Flights   int     // that were flown for it, with those of the first level
	Levels    []Level
	// Ended says that the flights gave no way to go on: all on the last level are equally far from failing, or it is rarer than the
	// levels reach. The estimate is then an upper bound.
	Ended bool
	Worst State
	// Of is the expectation whose failure it is, from 1; 0: all. Values are those of the worst flight. Both are the caller's.
	Of     int
	Values []harness.Value
}

// Level is one step towards the failure.
type Level struct {
	Limit float64 // flights at most this far from failing are beyond the level; 0: they fail
	Share float64 // of the flights of the level before that are
}

// The levels of a subset simulation.
const (
	levelShare = 10 // one flight in so many is beyond a level
	mostLevels = 12
	aim        = 0.44 // share of accepted candidates for which the chains adapt their steps
)

// LeastRare is the fewest flights of a level.
const LeastRare = 100

// LimitState says how far a flight is from not passing, as a share of its limits; at 0 or below it doesn't pass. only is the
// expectation that counts, from 1; 0: all, and doubts about the run.
func LimitState(v *harness.Verdict, expectations, only int) float64 {
	least := math.Inf(1)
	for i := range v.Findings {
		g := &v.Findings[i]
		if only > 0 && i != only-1 {
			continue
		}
		x := math.Inf(1)
		if i < expectations && g.HasMargin && !math.IsNaN(g.Share) {
			x = g.Share
		}
		switch {
		case g.Answer == harness.Pass:
			x = max(x, math.SmallestNonzeroFloat64)
		case g.Answer == harness.Unsure:
			x = min(x, 0)
		case math.IsInf(x, 1):
			x = math.Inf(-1)
		default:
			x = min(x, 0)
		}
		least = min(least, x)
	}
	return least
}

// Subset estimates the probability that a flight doesn't pass by subset simulation (S. K. Au, J. L. Beck, "Estimation of small
// failure probabilities in high dimensions by subset simulation", Probabilistic Engineering Mechanics 16, 2001, pages 263-277):
// the rare failure is reached over levels, each of which a tenth of the flights of the level before lie beyond. Flights beyond
// a level come from Markov chains by adaptive conditional sampling (I. Papaioannou and others, "MCMC algorithms for subset
// simulation", Probabilistic Engineering Mechanics 41, 2015, pages 89-103), which start at the flights that got there; the
// seed of a flight is kept or drawn anew with equal probability. first are independent flights, a multiple of ten of them; fly
// gives the Limit of each state. The same arguments give the same estimate.
func Subset(first []State, seed uint64, fly func([]State) error) (Rare, error) {
	c := &chains{random: noise.New(seed, "subset simulation"), fly: fly, states: slices.Clone(first)}
	c.heads, c.length = len(first), 1
	for i := range c.states {
		c.states[i].root = i
	}
	r := Rare{Flights: len(first)}
	p, variance := 1.0, 0.0
	for {
		limit, beyond := c.limit()
		share := float64(beyond) / float64(len(c.states))
		r.Worst = slices.MinFunc(c.states, func(a, b State) int { return cmp.Compare(a.Limit, b.Limit) })
		if limit > 0 && (beyond == len(c.states) || len(r.Levels) == mostLevels) {
			r.Ended = true
			r.Estimate, r.Variation = Estimate{p, 0, min(1, p*math.Exp(normal95*math.Sqrt(variance)))}, math.Sqrt(variance)
			return r, nil
		}
		r.Levels = append(r.Levels, Level{limit, share})
		p *= share
		variance += c.variance(limit, share)
		if limit <= 0 {
			byRoots, roots := c.byRoots(len(r.Levels))
			variance = max(variance, byRoots)
			r.Estimate, r.Variation = Estimate{p, 0, 0}, math.Sqrt(variance)
			if r.Low, r.High = lognormal(p, variance, roots); len(r.Levels) == 1 {
				r.Low, r.High = Interval(beyond, len(first))
			}
			return r, nil
		}
		before := c.flown
		if err := c.next(limit); err != nil {
			return r, err
		}
		r.Flights += c.flown - before
	}
}

// lognormal gives the 95 % interval of an estimate by a lognormal law whose variance is known from so many independent roots
// only: with Student's quantile instead of the normal one.
func lognormal(p, variance, roots float64) (low, high float64) {
	freedom := max(1, roots-1)
	student := math.Sqrt(freedom * (1/mathext.InvRegIncBeta(freedom/2, 0.5, 1-Confidence) - 1))
	wide := student * math.Sqrt(math.Log1p(variance))
	return p * math.Exp(-wide), min(1, p*math.Exp(wide))
}

// chains are Markov chains of flights beyond a level, one step of all after the other in one list.
type chains struct {
	random        *noise.Stream
	fly           func([]State) error
	states        []State
	heads, length int // how many chains, how long; independent flights are chains of length 1
	flown         int
}

// limit gives the next level, and how many flights lie beyond it: 0 if a tenth or more fail.
func (c *chains) limit() (limit float64, beyond int) {
	var all []float64
	for i := range c.states {
		all = append(all, c.states[i].Limit)
	}
	slices.Sort(all)
	limit = max(all[len(all)/levelShare-1], 0)
	for beyond < len(all) && all[beyond] <= limit {
		beyond++
	}
	return limit, beyond
}

// variance is the squared coefficient of variation of the share beyond a limit: that of independent flights, times 1 and what
// the correlation along the chains adds (Au and Beck 2001, equations 25 to 29).
func (c *chains) variance(limit, share float64) float64 {
	more := 0.0
	for lag := 1; lag < c.length; lag++ {
		both := 0
		for i := range c.heads * (c.length - lag) {
			if c.states[i].Limit <= limit && c.states[i+lag*c.heads].Limit <= limit {
				both++
			}
		}
		covariance := float64(both)/float64(c.heads*(c.length-lag)) - share*share
		more += 2 * (1 - float64(lag)/float64(c.length)) * covariance / (share * (1 - share))
	}
	if share == 1 {
		return 0
	}
	return (1 - share) / (share * float64(len(c.states))) * (1 + max(0, more))
}

// byRoots is the squared coefficient of variation of the whole estimate by how the flights that fail share the flights of the
// first level that they come from (A. Lee, N. Whiteley, "Variance estimation in the particle filter", Biometrika 105, 2018).
// It sees what flights of different levels have in common. effective is the number of equal roots that would say as much.
func (c *chains) byRoots(levels int) (variance, effective float64) {
	n := float64(len(c.states))
	count, all := map[int]float64{}, 0.0
	for i := range c.states {
		if c.states[i].Limit <= 0 {
			count[c.states[i].root]++
			all++
		}
	}
	roots := slices.Sorted(maps.Values(count)) // sorted, for the same sum each time
	same := 0.0
	for _, x := range roots {
		same += (x / all) * (x / all)
	}
	return 1 - math.Pow(n/(n-1), float64(levels))*(1-same), 1 / same
}

// next fills the chains with flights beyond a limit.
func (c *chains) next(limit float64) error {
	heads := slices.DeleteFunc(slices.Clone(c.states), func(s State) bool { return s.Limit > limit })
	n := len(c.states)
	for i := range heads { // in random order, since there may be a few more of them
		k := i + int(c.random.Uniform()*float64(len(heads)-i))
		heads[i], heads[k] = heads[k], heads[i]
	}
	heads = heads[:n/levelShare]
	spread := spreads(heads)
	c.states, c.heads, c.length = heads, len(heads), levelShare
	step := 0.6
	for t := 1; t < c.length; t++ {
		now := c.states[(t-1)*c.heads:]
		tried := make([]State, c.heads)
		for i := range tried {
			tried[i] = c.candidate(&now[i], step, spread)
		}
		if err := c.fly(tried); err != nil {
			return err
		}
		c.flown += len(tried)
		accepted, kept := 0, 0 // of the candidates with the seed of before
		for i := range tried {
			same := tried[i].Seed == now[i].Seed
			if same {
				kept++
			}
			if tried[i].Limit > limit {
				tried[i] = now[i]
			} else if same {
				accepted++
			}
		}
		c.states = append(c.states, tried...)
		step *= math.Exp((float64(accepted)/float64(max(kept, 1)) - aim) / math.Sqrt(float64(t)))
	}
	return nil
}

// candidate moves from a flight by a step that leaves the distribution of flights as it is.
func (c *chains) candidate(from *State, step float64, spread []float64) State {
	to := State{Scores: make([]float64, len(from.Scores)), Seed: from.Seed, root: from.root}
	for k, x := range from.Scores {
		move := min(1, step*spread[k])
		to.Scores[k] = float64(math.Sqrt(1-move*move)*x) + float64(move*c.random.Normal())
	}
	if fresh := uint64(c.random.Uniform()*(1<<32))<<32 | uint64(c.random.Uniform()*(1<<32)); c.random.Uniform() < 0.5 {
		to.Seed = fresh
	}
	return to
}

// spreads gives the standard deviation of each score, at most 1: two regions may be far from each other.
func spreads(states []State) []float64 {
	n := float64(len(states))
	out := make([]float64, len(states[0].Scores))
	for k := range out {
		var sum, square float64
		for i := range states {
			sum += states[i].Scores[k]
			square += states[i].Scores[k] * states[i].Scores[k]
		}
		out[k] = min(1, math.Sqrt(max(0, square-sum*sum/n)/(n-1)))
	}
	return out
}
