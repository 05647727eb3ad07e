package hunt

import (
	"slices"

	"drystage/harness"
	"drystage/harness/vary"
)

// Space is what is searched: the ranges of a plan's Vary, with a normal law truncated at three standard deviations, and
// some seeds from the plan's own on.
type Space struct {
	Vary    []harness.Vary
	Written []harness.Value // what the files have, in the order of Vary
	Seed    uint64          // the plan's own
	Faults  []string        // the names of the plan's faults
}

// Case is one flight: values in place of what the files have, in the order of Vary, a seed, and names of faults that are left
// out.
type Case struct {
	Seed    uint64
	Values  []harness.Value
	Without []string
}

// without gives the case without some more faults, and without values of them.
func (c Case) without(faults []string) Case {
	c.Without = append(slices.Clone(c.Without), faults...)
	c.Values = slices.DeleteFunc(slices.Clone(c.Values), func(x harness.Value) bool { return vary.OfFaults(x.Name, faults) })
	return c
}

// Own is the point of the files' own values.
func (s *Space) Own() []float64 {
	own := make([]float64, len(s.Vary))
	for i := range s.Vary {
		if low, high := s.Vary[i].Likely(); high > low {
			own[i] = (s.Written[i].Value - low) / (high - low)
		}
	}
	return own
}

// Case gives the flight at a point: the exact ends of ranges, and values with six digits between them, so that it can be
// written down exactly. The files' own point has no values.
func (s *Space) Case(p Point) Case {
	c := Case{Seed: s.Seed + uint64(p.Seed)}
	if slices.Equal(p.At, s.Own()) {
		return c
	}
	for i := range s.Vary {
		v := &s.Vary[i]
		low, high := v.Likely()
		x := harness.Value{Name: v.Name, Value: high, Unit: v.Unit}
		switch at := p.At[i]; at {
		case 0:
			x.Value = low
		case 1:
		default:
			x.Value = low + float64(at*(high-low))
			x.Value = vary.Nearest(v, min(max(vary.Round(x, 6).Value, low), high))
		}
		c.Values = append(c.Values, x)
	}
	return c
}

// find gives the index of a value in Vary.
func (s *Space) find(name string) int {
	return slices.IndexFunc(s.Vary, func(v harness.Vary) bool { return v.Name == name })
}
