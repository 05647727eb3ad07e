package report

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/hunt"
)

// found is a hunt of three flights with two expectations.
func found(worst hunt.Merit) *hunt.Find {
	pass, never := hunt.Merit{Answer: harness.Pass, Share: 0.57}, hunt.Merit{Answer: harness.Pass, Share: math.Inf(1)}
	texts := []string{"sustainer.drogue fires from apogee - 0.5 s to apogee + 1 s", "sustainer tilt at most 20 deg when sustainer.ignite fires, \x1b[31m whatever else is the case"}
	f := &hunt.Find{
		Space:   &hunt.Space{Vary: make([]harness.Vary, 2)},
		Plan:    &harness.Plan{Expect: []harness.Expectation{{Text: texts[0]}, {Text: texts[1]}}},
		Flights: []hunt.Flight{{Merits: []hunt.Merit{pass, pass, never}}, {Merits: []hunt.Merit{pass, worst, never}}, {Merits: []hunt.Merit{pass, pass, never}}},
		Demand:  1, Worst: 1, Extra: 9,
	}
	f.Verdict.Findings = []harness.Finding{{Text: texts[0], Answer: harness.Pass}, {Text: texts[1], Answer: worst.Answer, Reason: "it was lying over",
		Margin: -18.2, Unit: "deg", Share: worst.Share, HasMargin: !math.IsInf(worst.Share, 0)}}
	return f
}

func TestHunt(t *testing.T) {
	var b strings.Builder
	require.NoError(t, Hunt(&b, found(hunt.Merit{Answer: harness.Fail, Share: -0.91}), "drystage: scenario\nlike: x.yaml\n", Options{}))
	golden(t, "hunt.txt", b.String())
	assert.NotContains(t, b.String(), "no proof")
	b.Reset()
	require.NoError(t, Hunt(&b, found(hunt.Merit{Answer: harness.Pass, Share: 0.08}), "", Options{Color: true}))
	assert.Contains(t, b.String(), "That is no proof")
	assert.Contains(t, b.String(), "\x1b[32mPASS\x1b[0m sustainer tilt")
	assert.NotContains(t, b.String(), "\x1b[31m")
	b.Reset()
	require.NoError(t, Hunt(&b, found(hunt.Merit{Answer: harness.Fail, Share: math.Inf(-1)}), "", Options{}))
	assert.Contains(t, b.String(), "fail           -       2  sustainer tilt", "an output that stayed dark has no margin")
	require.ErrorIs(t, Hunt(&b, &hunt.Find{}, "", Options{}), ErrEmpty)
}
