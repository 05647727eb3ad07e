package run

import (
	"drystage/harness"
)

// Tally counts the verdicts of a suite that is flown again and again, and remembers the first of each
// kind of trouble: the same finding with the same answer in the same scenario.
type Tally struct {
	Rounds    int // begun
	Wanted    int // flights that were to be flown; 0: those that were
	Scenarios []Standing
	Kinds     []Kind
	byName    map[string]int
	byKind    map[string]int
}

// Standing is how often one scenario was flown, and with which answers.
type Standing struct {
	Name string
	harness.Count
}

// Kind is one kind of trouble.
type Kind struct {
	Scenario, Text string
	Answer         harness.Answer
	Count          int
	Round          int    // in which it came first
	Reason         string // of the first
	Record         string // where the first is kept; empty: nowhere
}

// Name puts a scenario into the tally before it is flown.
func (t *Tally) Name(name string) *Standing {
	if t.byName == nil {
		t.byName, t.byKind = map[string]int{}, map[string]int{}
	}
	at, ok := t.byName[name]
	if !ok {
		at = len(t.Scenarios)
		t.byName[name] = at
		t.Scenarios = append(t.Scenarios, Standing{Name: name})
	}
	return &t.Scenarios[at]
}

// Add counts a verdict of a round, and gives the kinds of trouble that it is the first of; they stay
// valid until the next Add.
func (t *Tally) Add(round int, v *harness.Verdict) (fresh []*Kind) {
	t.Rounds = max(t.Rounds, round)
	t.Name(v.Name).Count.Add(v.Answer)
	first := len(t.Kinds)
	for _, f := range v.Findings {
		if f.Answer == harness.Pass {
			continue
		}
		key := v.Name + "\x00" + f.Answer.String() + "\x00" + f.Text
		at, ok := t.byKind[key]
		if !ok {
			at = len(t.Kinds)
			t.byKind[key] = at
			t.Kinds = append(t.Kinds, Kind{Scenario: v.Name, Text: f.Text, Answer: f.Answer, Round: round, Reason: f.Reason})
		}
		t.Kinds[at].Count++
	}
	for i := first; i < len(t.Kinds); i++ {
		fresh = append(fresh, &t.Kinds[i])
	}
	return fresh
}

// count counts all answers.
func (t *Tally) count() (c harness.Count) {
	for _, s := range t.Scenarios {
		c.Pass, c.Fail, c.Unsure = c.Pass+s.Pass, c.Fail+s.Fail, c.Unsure+s.Unsure
	}
	return c
}

// NotFlown is how many flights are missing of those that were to be flown.
func (t *Tally) NotFlown() int { return max(0, t.Wanted-t.count().All()) }

// Worst is the answer of all; what was not flown is unsure.
func (t *Tally) Worst() harness.Answer {
	c := t.count()
	c.Unsure += t.NotFlown()
	return c.Answer()
}
