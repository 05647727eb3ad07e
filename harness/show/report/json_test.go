package report

import (
	"encoding/json"
	"math"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
)

// RFC 8259: no NaN or infinity (section 6), and integers beyond 2^53 are not safe as numbers.
func TestJSONHoldsWhatRFC8259Allows(t *testing.T) {
	vs := suiteOfThree()
	vs[0].Findings[0].Margin, vs[0].Findings[0].Share = math.Inf(-1), math.NaN()
	vs[0].Findings[1].Margin, vs[0].Findings[1].Share = 1e308, 0.123456789
	vs[1].Title = "a\xffb"
	var d struct {
		Suite struct {
			Scenarios []struct {
				Title    string
				Seed     string
				Findings []struct {
					Reason        string
					Margin, Share *float64
				}
			}
		}
	}
	got := text(t, JSON, vs, options())
	require.True(t, utf8.ValidString(got), "section 8.1")
	assert.Equal(t, got, text(t, JSON, vs, options()))
	require.NoError(t, json.Unmarshal([]byte(got), &d))
	s := d.Suite.Scenarios
	assert.Nil(t, s[0].Findings[0].Margin)
	assert.Nil(t, s[0].Findings[0].Share)
	assert.Equal(t, "a\ufffdb", s[1].Title)
	assert.Equal(t, 1e308, *s[0].Findings[1].Margin)
	assert.Equal(t, 0.123457, *s[0].Findings[1].Share, "rounded")
	assert.Equal(t, "18446744073709551615", s[2].Seed)
	assert.Contains(t, s[2].Findings[0].Reason, "\x1b[31mno\x07", "escaped, not lost")
}

func TestOnlyTheRunOfJSONDiffersBetweenTwoEqualRuns(t *testing.T) {
	later := options()
	later.Began, later.Took, later.Host = later.Began.Add(time.Hour), time.Minute, "elsewhere"
	parts := func(opt Options) (run, suite string) {
		var d map[string]json.RawMessage
		require.NoError(t, json.Unmarshal([]byte(text(t, JSON, suiteOfThree(), opt)), &d))
		require.Len(t, d, 2)
		return string(d["run"]), string(d["suite"])
	}
	run1, suite1 := parts(options())
	run2, suite2 := parts(later)
	assert.NotEqual(t, run1, run2)
	assert.Equal(t, suite1, suite2)
	assert.NotContains(t, text(t, JSON, suiteOfThree(), Options{}), `"run"`, "records that are judged again have no run")
}

func TestJSONCountsAnswers(t *testing.T) {
	var d struct {
		Suite struct {
			Answer                 string
			Passed, Failed, Unsure int
		}
	}
	for _, c := range []struct {
		reason string
		vs     []harness.Verdict
		want   string
	}{
		{"one fail makes the suite fail", suiteOfThree(), "fail"},
		{"unsure before pass", append(suiteOfThree()[:1:1], suiteOfThree()[2]), "unsure"},
		{"all pass", suiteOfThree()[:1], "pass"},
	} {
		require.NoError(t, json.Unmarshal([]byte(text(t, JSON, c.vs, options())), &d))
		assert.Equal(t, c.want, d.Suite.Answer, c.reason)
		assert.Equal(t, len(c.vs), d.Suite.Passed+d.Suite.Failed+d.Suite.Unsure, c.reason)
	}
}
