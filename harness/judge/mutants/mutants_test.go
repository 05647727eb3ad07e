package mutants

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestReasonsFitAndGetStale(t *testing.T) {
	all := []Reason{{Func: "gate", Kind: Halved, Was: "0.1", Why: "nothing is that near"}, {Func: "plain", Equal: true, Why: "it is"}}
	m := Mutant{Func: "gate", Kind: Halved, Was: "0.1", Is: "(0.1) * 0.5"}
	assert.Equal(t, "nothing is that near", Find(all, &m).Why)
	assert.Equal(t, all[1:], Stale(all, []Mutant{m}))
	m.Was = "0.2"
	assert.Nil(t, Find(all, &m))
}

func TestScoreLeavesOutWhatIsEqual(t *testing.T) {
	results := []Result{{Mutant: Mutant{Func: "a"}, Outcome: Killed}, {Mutant: Mutant{Func: "b"}, Outcome: Survived}, {Mutant: Mutant{Func: "c"}, Outcome: Unsure}, {Mutant: Mutant{Func: "d"}, Outcome: Hung}}
	s := Count(results, []Reason{{Func: "b", Equal: true, Why: "w"}, {Func: "d", Equal: true, Why: "w"}}, nil)
	assert.Equal(t, Score{All: 4, Killed: 2, Equal: 1, Left: 1, WrongEqual: 1}, s)
	assert.InDelta(t, 66.7, s.Percent(), 0.1)
}
