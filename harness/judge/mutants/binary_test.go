package mutants

import (
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/judge/codecoverage"
)

// branches is a program of four branches, of which one has no opposite.
func branches() *codecoverage.Program {
	p := &codecoverage.Program{}
	for i, name := range []string{"climb", "climb", "main", "read"} {
		p.Branches = append(p.Branches, codecoverage.Branch{Address: uint32(2 * i), Place: codecoverage.Place{File: "/src/a.c", Line: 10 + i}, Functions: []string{name}, Flips: i != 1})
	}
	return p
}

func answered(all ...harness.Answer) (v harness.Verdict) {
	for _, a := range all {
		v.Findings = append(v.Findings, harness.Finding{Answer: a, Text: "the drogue"})
	}
	return v
}

// A flip flies only where its branch is executed, first where most were killed, until what passed fails.
func TestBinary(t *testing.T) {
	b, err := NewBinary(branches(), regexp.MustCompile("climb|main|read"), 0, 1)
	require.NoError(t, err)
	require.Equal(t, 3, b.Of)
	executed := func(words ...uint64) *codecoverage.Counts {
		return &codecoverage.Counts{Executed: words, Jumped: make([]uint64, len(words))}
	}
	b.AddScenario("first", executed(1, 1, 0, 1), answered(harness.Pass, harness.Fail))
	b.AddScenario("second", executed(1, 1, 0, 1), answered(harness.Pass))
	tried := map[Try]bool{}
	fly := func(want []Try, verdicts ...harness.Verdict) {
		t.Helper()
		next := b.Next(tried)
		require.Equal(t, want, next)
		for i, x := range next {
			tried[x] = true
			b.Judge(x, &verdicts[i])
		}
	}
	fly([]Try{{0, 0}, {2, 0}}, answered(harness.Pass, harness.Fail), answered(harness.Unsure, harness.Fail)) // what failed before proves nothing
	fly([]Try{{0, 1}, {2, 1}}, answered(harness.Fail), answered(harness.Unsure))
	require.Empty(t, b.Next(tried))
	require.Equal(t, []Outcome{Killed, Unreached, Survived}, []Outcome{b.Flips[0].Outcome, b.Flips[1].Outcome, b.Flips[2].Outcome})
	require.Equal(t, "second", b.Flips[0].Scenario)
	require.Equal(t, "a.c:10 climb, branch at 0x0", b.Flips[0].String())
	require.Equal(t, Score{All: 3, Killed: 1, Left: 2}, b.Score())
}

// The next scenario is the one that has killed most.
func TestBinaryOrder(t *testing.T) {
	b, err := NewBinary(branches(), regexp.MustCompile(".*"), 0, 1)
	require.NoError(t, err)
	all := &codecoverage.Counts{Executed: []uint64{1, 1, 1, 1}, Jumped: make([]uint64, 4)}
	b.AddScenario("first", all, answered(harness.Pass))
	b.AddScenario("second", all, answered(harness.Pass))
	fails := answered(harness.Fail)
	b.Judge(Try{0, 1}, &fails)
	require.Equal(t, []Try{{1, 1}, {2, 1}}, b.Next(map[Try]bool{}))
}

func TestBinaryDraw(t *testing.T) {
	draw := func(n int, seed uint64) (out []uint32) {
		b, err := NewBinary(branches(), regexp.MustCompile(".*"), n, seed)
		require.NoError(t, err)
		for _, f := range b.Flips {
			out = append(out, f.Address)
		}
		return out
	}
	require.Len(t, draw(2, 1), 2)
	require.Equal(t, draw(2, 1), draw(2, 1))
	require.Equal(t, []uint32{0, 4, 6}, draw(9, 1))
	_, err := NewBinary(branches(), regexp.MustCompile("clim"), 0, 1)
	require.ErrorContains(t, err, `functions that match "clim"`)
}
