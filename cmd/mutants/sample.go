package main

import (
	"slices"

	"drystage/harness/judge/mutants"
	"drystage/sim/noise"
)

// choose gives the mutants to fly, in the order of their numbers.
func (c *command) choose(all []mutants.Mutant) []mutants.Mutant {
	if c.only > 0 {
		return slices.DeleteFunc(slices.Clone(all), func(m mutants.Mutant) bool { return m.Number != c.only })
	}
	if c.sample == 0 || c.sample >= len(all) {
		return all
	}
	return sample(all, c.sample, c.seed)
}

// sample draws n mutants by a seed.
func sample(all []mutants.Mutant, n int, seed uint64) []mutants.Mutant {
	out := slices.Clone(all)
	draw := noise.New(seed, "mutants")
	for i := range n {
		k := i + int(draw.Uniform()*float64(len(out)-i))
		out[i], out[k] = out[k], out[i]
	}
	out = out[:n]
	slices.SortFunc(out, func(a, b mutants.Mutant) int { return a.Number - b.Number })
	return out
}
