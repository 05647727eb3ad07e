package main

import (
	"encoding/json"
	"fmt"
	"os"
	"slices"

	"drystage/harness/judge/mutants"
	"drystage/sim/noise"
)

// choose gives the mutants to fly, in the order of their numbers.
func (c *command) choose(all []mutants.Mutant) ([]mutants.Mutant, error) {
	switch {
	case c.again != "":
		return again(c.again, all)
	case c.only > 0:
		return slices.DeleteFunc(slices.Clone(all), func(m mutants.Mutant) bool { return m.Number != c.only }), nil
	case c.sample == 0 || c.sample >= len(all):
		return all, nil
	}
	return sample(all, c.sample, c.seed), nil
}

// again gives the mutants that lived in a file of results. Their numbers and lines may be others by now.
func again(file string, all []mutants.Mutant) (out []mutants.Mutant, err error) {
	text, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	var results []mutants.Result
	if err := json.Unmarshal(text, &results); err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	type change struct {
		function string
		kind     mutants.Kind
		was, is  string
	}
	lived := map[change]bool{}
	for i := range results {
		if r := &results[i]; !r.Killed() {
			lived[change{r.Func, r.Kind, r.Was, r.Is}] = true
		}
	}
	for _, m := range all {
		if lived[change{m.Func, m.Kind, m.Was, m.Is}] {
			out = append(out, m)
		}
	}
	return out, nil
}

// sample draws n mutants by a seed.
func sample(all []mutants.Mutant, n int, seed uint64) []mutants.Mutant {
	return mutants.Sample(all, n, noise.New(seed, "mutants"))
}
