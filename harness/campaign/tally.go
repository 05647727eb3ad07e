package campaign

import (
	"drystage/harness"
)

// Tally counts the verdicts of a suite that is flown again and again, and remembers the first of each
// kind of trouble: the same finding with the same answer in the same scenario.
type Tally struct {
	Rounds    int // begun
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

// Add counts a verdict of a round, and gives the kinds of trouble that it is the first of; they stay
// valid until the next Add.
func (t *Tally) Add(round int, v *harness.Verdict) (fresh []*Kind) {
	if t.byName == nil {
		t.byName, t.byKind = map[string]int{}, map[string]int{}
	}
	t.Rounds = max(t.Rounds, round)
	at, ok := t.byName[v.Name]
	if !ok {
		at = len(t.Scenarios)
		t.byName[v.Name] = at
		t.Scenarios = append(t.Scenarios, Standing{Name: v.Name})
	}
	s := &t.Scenarios[at]
	s.Count.Add(v.Answer)
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

// Worst is the answer of all that was flown; nothing flown is unsure.
func (t *Tally) Worst() harness.Answer {
	var c harness.Count
	for _, s := range t.Scenarios {
		c.Pass, c.Fail, c.Unsure = c.Pass+s.Pass, c.Fail+s.Fail, c.Unsure+s.Unsure
	}
	return c.Answer()
}
