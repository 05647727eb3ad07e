package hunt

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"drystage/harness"
	"drystage/harness/vary"
	"drystage/sim/quantity"
)

// Goal is what must stay true while a case is shrunk: a criterion that fails or is unsure stays so; the margin share of
// one that passes stays at or below a limit.
type Goal struct {
	Criterion int
	Answer    harness.Answer
	Limit     float64
}

// maxLoss is the part of the decrease of a passing criterion's margin share, from the files' own flight to the worst one,
// that a smaller case may lose.
const maxLoss = 0.1

// GoalFor gives the goal for a criterion from its scores in the worst flight and in the files' own flight.
func GoalFor(criterion int, worst, own Score) Goal {
	a := Goal{criterion, worst.Answer, worst.Share}
	if fell := own.Share - worst.Share; own.Answer == harness.Pass && fell > 0 && !math.IsInf(fell, 0) {
		a.Limit += float64(maxLoss * fell)
	}
	return a
}

// Holds says that a flight still meets the goal.
func (a Goal) Holds(merits []Score) bool {
	m := merits[a.Criterion]
	return m.Answer == a.Answer && (a.Answer != harness.Pass || m.Share <= a.Limit)
}

// Shrink makes a case as small as possible while the goal holds. It leaves out faults, more and more finely divided parts of them at
// once, and replaces the seed and the values by the files' own, one after the other, until no remaining one can go (1-minimal, as
// A. Zeller and R. Hildebrandt call it in Simplifying and isolating failure-inducing input, IEEE Transactions on Software
// Engineering 28(2), 2002). Then it rounds the remaining values to as few digits as possible, inside their ranges. If either of two values would do, the
// order decides which remains. The resulting case was flown.
func (s *Space) Shrink(c Case, holds func(Case) (bool, error)) (Case, error) {
	k := &shrinker{s, c, holds}
	steps := []func() error{k.reseed, k.leaveOut, k.drop, k.round, k.drop, k.leaveOut, k.reseed}
	if ok, err := k.try(Case{Seed: s.Seed}); err != nil {
		return k.c, err
	} else if ok {
		steps = []func() error{k.leaveOut}
	}
	for _, step := range steps {
		if err := step(); err != nil {
			return k.c, err
		}
	}
	slices.SortFunc(k.c.Without, func(a, b string) int { return slices.Index(s.Faults, a) - slices.Index(s.Faults, b) })
	return k.c, nil
}

type shrinker struct {
	s     *Space
	c     Case // the smallest that holds so far
	holds func(Case) (bool, error)
}

func (k *shrinker) try(smaller Case) (bool, error) {
	ok, err := k.holds(smaller)
	if ok && err == nil {
		k.c = smaller
	}
	return ok, err
}

// reseed tries the files' own seed.
func (k *shrinker) reseed() error {
	if k.c.Seed == k.s.Seed {
		return nil
	}
	c := k.c
	c.Seed = k.s.Seed
	_, err := k.try(c)
	return err
}

// leaveOut leaves out faults: all of them, halves, quarters and so on, and in the end single ones until no remaining one can go.
func (k *shrinker) leaveOut() error {
	left := func() []string {
		return slices.DeleteFunc(slices.Clone(k.s.Faults), func(name string) bool { return slices.Contains(k.c.Without, name) })
	}
	for size := len(left()); size > 0; {
		gone := false
		for part := range slices.Chunk(left(), size) {
			ok, err := k.try(k.c.without(part))
			if err != nil {
				return err
			}
			gone = gone || ok
		}
		if size > 1 || !gone {
			size /= 2
		}
	}
	return nil
}

// drop replaces values by the files' own until no remaining one can be replaced.
func (k *shrinker) drop() error {
	for again := true; again; {
		again = false
		for _, v := range slices.Clone(k.c.Values) {
			without := slices.DeleteFunc(slices.Clone(k.c.Values), func(x harness.Value) bool { return x.Name == v.Name })
			ok, err := k.try(Case{k.c.Seed, without, k.c.Without})
			if err != nil {
				return err
			}
			again = again || ok
		}
	}
	return nil
}

// round rounds the remaining values.
func (k *shrinker) round() error {
	for i, v := range k.c.Values {
		law := &k.s.Vary[k.s.find(v.Name)]
		low, high := law.Likely()
		for _, x := range rounder(v) {
			if x < low || x > high || vary.Nearest(law, x) != x {
				continue
			}
			rounded := slices.Clone(k.c.Values)
			rounded[i].Value = x
			ok, err := k.try(Case{k.c.Seed, rounded, k.c.Without})
			if err != nil {
				return err
			}
			if ok {
				break
			}
		}
	}
	return nil
}

// Edge is where the answer changes between the files' own value and the one value of a case: at Before it is still a
// different one, at After it is that of the case.
type Edge struct {
	Found              bool
	Own, Before, After harness.Value
}

// halvings is the number of bisections: to a 256th of the interval.
const halvings = 8

// Edge finds the edge of a shrunk case by bisection. A case without values, or with several, or with one of a discrete law, has none. There may be more
// edges in the interval than the one found.
func (s *Space) Edge(c Case, holds func(Case) (bool, error)) (Edge, error) {
	if len(c.Values) != 1 {
		return Edge{}, nil
	}
	own := s.Written[s.find(c.Values[0].Name)]
	if s.Vary[s.find(own.Name)].Law == harness.Discrete {
		return Edge{}, nil // no value is between two others
	}
	e := Edge{true, own, own, c.Values[0]}
	for range halvings {
		middle := e.Before
		middle.Value += float64((e.After.Value - e.Before.Value) / 2)
		ok, err := holds(Case{c.Seed, []harness.Value{middle}, c.Without})
		switch {
		case err != nil:
			return Edge{}, err
		case ok:
			e.After = middle
		default:
			e.Before = middle
		}
	}
	return e, nil
}

// mostDigits is the largest number of digits of a rounded value.
const mostDigits = 5

// rounder gives roundings of a value with more and more digits, as written in files. For each number of digits the
// nearest comes first, then its two neighbours, in case the answer changes in between.
func rounder(x harness.Value) (out []float64) {
	text := vary.Text(x)
	number, unit, _ := strings.Cut(text, " ")
	full, err := strconv.ParseFloat(number, 64)
	if err != nil || full == 0 {
		return nil
	}
	for digits := 1; digits <= mostDigits; digits++ {
		step := math.Pow(10, math.Floor(math.Log10(math.Abs(full)))+1-float64(digits))
		nearest := math.Round(full/step) * step
		for _, y := range [...]float64{nearest, nearest + step, nearest - step} {
			plain, _ := strconv.ParseFloat(strconv.FormatFloat(y, 'g', 12, 64), 64)
			si, _, err := quantity.Any(strings.TrimSpace(strconv.FormatFloat(plain, 'f', -1, 64) + " " + unit))
			if plain == full {
				return out // no shorter than it is
			}
			if err == nil && !slices.Contains(out, si) {
				out = append(out, si)
			}
		}
	}
	return out
}
