package sim

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestWarningKindsAreWhole(t *testing.T) {
	words := map[string]bool{}
	for _, k := range WarningKinds() {
		assert.NotEmpty(t, k.Text(), "%s", k)
		assert.NotEmpty(t, k.Basis(), "%s tells where its limit is from", k)
		assert.False(t, words[k.String()], "%s twice", k)
		words[k.String()] = true
		w := Warning{Kind: k, Worst: 1, Limit: 0.5}
		assert.NotContains(t, w.Values(), "%!", "%s", k)
	}
	assert.Empty(t, WarningKind(200).String(), "a number from a record that is no kind")
	assert.False(t, WarningKind(200).OutsideModel())
}

func TestWarningInWords(t *testing.T) {
	w := Warning{Kind: AngleOfAttack, From: 7 * Second, Until: 9 * Second, Worst: 3.14159265, Limit: 0.2617993878}
	assert.Equal(t, "180.0 deg, limit 15.0 deg (common practice, no source)", w.Values())
	assert.Equal(t, "from 2.000 s to 4.000 s", w.When(5*Second))
	w.Until = w.From
	assert.Equal(t, "at 7.000 s", w.When(0))
}
