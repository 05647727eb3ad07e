package run

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
)

func verdictOf(name string, findings ...harness.Finding) *harness.Verdict {
	v := &harness.Verdict{Name: name, Answer: harness.Pass, Findings: findings}
	for _, f := range findings {
		if f.Answer != harness.Pass && v.Answer != harness.Fail {
			v.Answer = f.Answer
		}
	}
	return v
}

func TestTally(t *testing.T) {
	dark := harness.Finding{Text: "drogue fires", Answer: harness.Fail, Reason: "stayed dark"}
	late := harness.Finding{Text: "drogue fires", Answer: harness.Fail, Reason: "2 s late"}
	silent := harness.Finding{Text: "the link is whole", Answer: harness.Unsure, Reason: "1 frame lost"}
	good := harness.Finding{Text: "drogue fires", Answer: harness.Pass}
	var tally Tally
	assert.Equal(t, harness.Unsure, tally.Worst(), "nothing flown proves nothing")
	assert.Empty(t, tally.Add(1, verdictOf("nominal", good)))
	assert.Equal(t, harness.Pass, tally.Worst())
	fresh := tally.Add(2, verdictOf("nominal", good, silent))
	require.Len(t, fresh, 1)
	fresh[0].Record = "nominal.round2.record"
	assert.Equal(t, harness.Unsure, tally.Worst())
	require.Len(t, tally.Add(3, verdictOf("nominal", dark, silent)), 1, "the lost frame is an old kind")
	assert.Empty(t, tally.Add(4, verdictOf("nominal", late)), "another reason, the same kind")
	require.Len(t, tally.Add(4, verdictOf("windy", dark)), 1, "another scenario, another kind")
	assert.Equal(t, harness.Fail, tally.Worst())
	assert.Equal(t, 4, tally.Rounds)
	assert.Equal(t, []Standing{{"nominal", harness.Count{Pass: 1, Fail: 2, Unsure: 1}}, {"windy", harness.Count{Fail: 1}}}, tally.Scenarios)
	assert.Equal(t, []Kind{
		{"nominal", "the link is whole", harness.Unsure, 2, 2, "1 frame lost", "nominal.round2.record"},
		{"nominal", "drogue fires", harness.Fail, 2, 3, "stayed dark", ""},
		{"windy", "drogue fires", harness.Fail, 1, 4, "stayed dark", ""},
	}, tally.Kinds)
}
