package report

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/judge/hunt"
)

// found is a hunt of three flights with two expectations.
func found(worst hunt.Score) *hunt.Result {
	pass, never := hunt.Score{Answer: harness.Pass, Share: 0.57}, hunt.Score{Answer: harness.Pass, Share: math.Inf(1)}
	texts := []string{"sustainer.drogue fires from apogee - 0.5 s to apogee + 1 s", "sustainer tilt at most 20 deg when sustainer.ignite fires, \x1b[31m whatever else is the case"}
	f := &hunt.Result{
		Space:     &hunt.Space{Vary: make([]harness.Vary, 2)},
		Plan:      &harness.Plan{Expect: []harness.Expectation{{Text: texts[0]}, {Text: texts[1]}}},
		Flights:   []hunt.Flight{{Scores: []hunt.Score{pass, pass, never}}, {Scores: []hunt.Score{pass, worst, never}}, {Scores: []hunt.Score{pass, pass, never}}},
		Criterion: 1, Worst: 1, Extra: 9,
	}
	f.Verdict.Findings = []harness.Finding{{Text: texts[0], Answer: harness.Pass}, {Text: texts[1], Answer: worst.Answer, Reason: "it was lying over",
		Margin: -18.2, Unit: "deg", Share: worst.Share, HasMargin: !math.IsInf(worst.Share, 0)}}
	return f
}

func TestHunt(t *testing.T) {
	var b strings.Builder
	require.NoError(t, Hunt(&b, found(hunt.Score{Answer: harness.Fail, Share: -0.91}), "drystage: scenario\nlike: x.yaml\n", Options{}))
	golden(t, "hunt.txt", b.String())
	assert.NotContains(t, b.String(), "no proof")
	b.Reset()
	require.NoError(t, Hunt(&b, found(hunt.Score{Answer: harness.Pass, Share: 0.08}), "", Options{Color: true}))
	assert.Contains(t, b.String(), "That is no proof")
	assert.Contains(t, b.String(), "\x1b[32mPASS\x1b[0m sustainer tilt")
	assert.NotContains(t, b.String(), "\x1b[31m")
	b.Reset()
	beside := found(hunt.Score{Answer: harness.Pass, Share: 0.08})
	beside.Flights[2].Scores[0].Answer = harness.Fail
	require.NoError(t, Hunt(&b, beside, "", Options{}))
	assert.Contains(t, b.String(), "what did not pass stands above.")
	assert.NotContains(t, b.String(), "Nothing that the search tried failed")
	b.Reset()
	require.NoError(t, Hunt(&b, found(hunt.Score{Answer: harness.Fail, Share: math.Inf(-1)}), "", Options{}))
	assert.Contains(t, b.String(), "fail           -       2  sustainer tilt", "an output that stayed dark has no margin")
	require.ErrorIs(t, HuntJSON(&b, &hunt.Result{}, "", Options{}), ErrEmpty)
	require.ErrorIs(t, Hunt(&b, &hunt.Result{}, "", Options{}), ErrEmpty)
}

// theHunt is a hunt with all that its output may hold.
func theHunt() *hunt.Result {
	f := found(hunt.Score{Answer: harness.Fail, Share: -0.91})
	f.Space.Seed, f.Space.Written = 1<<64-2, make([]harness.Value, 2)
	f.Space.Vary = []harness.Vary{{Name: "rail.tilt", Unit: "rad", Low: 0, High: 1}, {Name: "booster.drag", Low: 0.9, High: 1.1}}
	for i := range f.Flights {
		f.Flights[i].At = []float64{0.5, 0.5}
	}
	f.Flights[1].Seed = 1
	tilt := harness.Value{Name: "rail.tilt", Value: math.Pi / 18, Unit: "rad"}
	f.Case, f.Edge = hunt.Case{Seed: f.Space.Seed, Values: []harness.Value{tilt}, Without: []string{"spike.2"}}, hunt.Edge{Found: true, Own: harness.Value{Unit: "rad"}, Before: tilt, After: tilt}
	return f
}

func TestHuntJSON(t *testing.T) {
	var b strings.Builder
	require.NoError(t, HuntJSON(&b, theHunt(), "drystage: scenario\n", Options{}))
	assert.NotContains(t, b.String(), "null")
	type value struct {
		Of    string
		Value float64
		Unit  string
		Is    string
	}
	var got struct {
		Answer                          string
		Flights, Passed, Failed, Unsure int
		Extra                           int `json:"flights_to_shrink"`
		Demands                         []struct {
			Flight int
			Seed   string
			Set    []value
			Share  *float64
		} `json:"expectations"`
		Case     []value  `json:"set"`
		Needless []string `json:"not_needed"`
		Edge     struct{ After value }
		Finding  struct{ Reason string }
		Scenario string
	}
	require.NoError(t, json.Unmarshal([]byte(b.String()), &got))
	assert.Equal(t, "fail", got.Answer)
	assert.Equal(t, []int{3, 2, 1, 0, 9}, []int{got.Flights, got.Passed, got.Failed, got.Unsure, got.Extra})
	require.Len(t, got.Demands, 3)
	assert.Equal(t, 2, got.Demands[1].Flight)
	assert.Equal(t, "18446744073709551615", got.Demands[1].Seed, "as text, exact")
	assert.Equal(t, []value{{"rail.tilt", got.Demands[1].Set[0].Value, "rad", "28.6479 deg"}, {"booster.drag", 1, "", "1"}}, got.Demands[1].Set)
	assert.Equal(t, -0.91, *got.Demands[1].Share)
	assert.Nil(t, got.Demands[2].Share, "infinity has no word in JSON")
	assert.Equal(t, []value{{"rail.tilt", math.Pi / 18, "rad", "10 deg"}}, got.Case)
	assert.Equal(t, []string{"booster.drag"}, got.Needless)
	assert.Equal(t, "10 deg", got.Edge.After.Is)
	assert.Equal(t, "it was lying over", got.Finding.Reason)
	assert.Equal(t, "drystage: scenario\n", got.Scenario)
}
