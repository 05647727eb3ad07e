package main

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/judge/mutants"
)

// TestSampleOfMutants flies a few mutants of the built-in board and of the reference firmware in a few scenarios, which
// must not all slip through; make mutants flies all in all, and tells the score.
func TestSampleOfMutants(t *testing.T) {
	for _, of := range []string{"go", "c"} {
		t.Run(of, func(t *testing.T) {
			p, err := prepare(t.Context(), of)
			require.NoError(t, err)
			defer p.remove()
			require.Greater(t, len(p.schemata.Mutants), 1000)
			require.NoError(t, p.build(t.Context()))
			p.flown = strings.Fields("nominal as-set tip-off power-cut baro-lost restart-pad")
			chosen := sample(p.schemata.Mutants, 8, 1)
			results, _, err := p.fly(t.Context(), chosen, t.Output())
			require.NoError(t, err)
			s := mutants.Count(results, p.reasons, nil)
			assert.Equal(t, 8, s.All)
			assert.Zero(t, s.WrongEqual, "equal by argument, yet killed")
			assert.Positive(t, s.Killed)
			deafMutant(t, p)
		})
	}
}

// deafMutant flies a mutant that is deaf to DISARM, which none of these scenarios gives.
func deafMutant(t *testing.T, p *mutated) {
	var deaf []mutants.Mutant
	for _, m := range p.schemata.Mutants {
		if m.Func == "disarm" && m.Kind == mutants.Dropped {
			deaf = append(deaf, m)
		}
	}
	require.NotEmpty(t, deaf)
	results, _, err := p.fly(t.Context(), deaf[len(deaf)-1:], t.Output())
	require.NoError(t, err)
	assert.Equal(t, mutants.Killed, results[0].Outcome)
	assert.Empty(t, results[0].Scenario)
	assert.Contains(t, results[0].Point, "disarms", "the contract tries what no flight did")
}

func TestSamplesAreDrawnByTheirSeed(t *testing.T) {
	var all []mutants.Mutant
	for n := range 100 {
		all = append(all, mutants.Mutant{Number: n + 1})
	}
	one := sample(all, 10, 1)
	assert.Len(t, one, 10)
	assert.Equal(t, one, sample(all, 10, 1))
	assert.NotEqual(t, one, sample(all, 10, 2))
	for i := range one[1:] {
		assert.Less(t, one[i].Number, one[i+1].Number, "each once, in order")
	}
	assert.Len(t, sample(all, 100, 3), 100)
}
