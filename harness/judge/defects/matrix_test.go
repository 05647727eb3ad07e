package defects

import (
	"math/bits"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"drystage/harness"
)

// drawn makes a matrix from letters: p pass, f fail, u unsure, . not flown. The first row is the honest board's.
func drawn(rows ...string) *Matrix {
	var scenarios []Scenario
	for i := range rows[0] {
		scenarios = append(scenarios, Scenario{Name: strconv.Itoa(i)})
	}
	m := New(scenarios, make([]Defect, len(rows)-1))
	answers := map[rune]harness.Answer{'p': harness.Pass, 'f': harness.Fail, 'u': harness.Unsure}
	for d, row := range rows {
		for s, c := range row {
			v := &harness.Verdict{Answer: answers[c]}
			switch {
			case c == '.':
			case d == 0:
				m.SetReference(s, v)
			default:
				m.Set(d-1, s, v)
			}
		}
	}
	return m
}

func TestAnswer(t *testing.T) {
	for _, c := range []struct {
		reason  string
		rows    []string
		defects []harness.Answer
		verdict harness.Answer
	}{
		{"one scenario that fails is enough", []string{"pp", "pf"}, []harness.Answer{harness.Pass}, harness.Pass},
		{"a fail counts beside an unsure one", []string{"pp", "uf"}, []harness.Answer{harness.Pass}, harness.Pass},
		{"unsure is not caught, and has not slipped through for certain", []string{"pp", "up"}, []harness.Answer{harness.Unsure}, harness.Unsure},
		{"all pass: it slips through", []string{"pp", "pp"}, []harness.Answer{harness.Fail}, harness.Fail},
		{"one that slips through outweighs those that are caught or unsure", []string{"pp", "ff", "up", "pp"},
			[]harness.Answer{harness.Pass, harness.Unsure, harness.Fail}, harness.Fail},
		{"a fail of a scenario that the honest board fails too proves nothing", []string{"pf", "pf"}, []harness.Answer{harness.Fail}, harness.Fail},
		{"nor does one that leaves the honest board unsure", []string{"pu", "pf"}, []harness.Answer{harness.Fail}, harness.Fail},
		{"an unsound scenario leaves the whole unsure though all is caught", []string{"pf", "f."}, []harness.Answer{harness.Pass}, harness.Unsure},
		{"without a sound scenario nothing was tried", []string{"fu", "ff"}, []harness.Answer{harness.Unsure}, harness.Unsure},
		{"a flight that never happened is no pass", []string{"pp", "p."}, []harness.Answer{harness.Unsure}, harness.Unsure},
		{"an honest board that was never flown is no pass", []string{"..", "ff"}, []harness.Answer{harness.Unsure}, harness.Unsure},
		{"no defect proves nothing", []string{"pp"}, nil, harness.Unsure},
		{"no scenario proves nothing", []string{"", ""}, []harness.Answer{harness.Unsure}, harness.Unsure},
	} {
		m := drawn(c.rows...)
		var got []harness.Answer
		for d := range m.Defects {
			got = append(got, m.Answer(d))
		}
		assert.Equal(t, c.defects, got, c.reason)
		assert.Equal(t, c.verdict, m.Verdict(), c.reason)
	}
}

func TestWhoCatchesWhat(t *testing.T) {
	m := drawn(
		"ppfp",
		"fpfp",
		"fufp",
		"pufp")
	assert.Equal(t, []int{2}, m.Invalid(), "the honest board fails it")
	assert.Equal(t, []int{0}, m.CaughtBy(0), "only the sound one of two that fail")
	assert.Equal(t, []int{1}, m.UnsureIn(1))
	assert.Equal(t, []int{0, 1}, m.Catches(0))
	assert.Empty(t, m.Catches(2), "an unsound scenario catches nothing")
	assert.Equal(t, []int{0, 1}, m.Alone(0))
	assert.Equal(t, []int{2}, m.WithAnswer(harness.Unsure))
	assert.Equal(t, []int{0, 1}, m.WithAnswer(harness.Pass))
	assert.Empty(t, drawn("pp", "ff").Alone(0), "what two catch, neither catches alone")
}

func TestWorst(t *testing.T) {
	dark := harness.Finding{Text: "fires"}
	margin := func(share float64) harness.Finding { return harness.Finding{Share: share, HasMargin: true} }
	for _, c := range []struct {
		reason   string
		findings []harness.Finding
		want     int
	}{
		{"the smallest share", []harness.Finding{margin(-0.2), margin(-3), margin(-1)}, 1},
		{"the first of equals", []harness.Finding{margin(-1), margin(-1)}, 0},
		{"a margin tells more than none", []harness.Finding{dark, margin(-0.1)}, 1},
		{"the first, if none has a margin", []harness.Finding{dark, dark}, 0},
	} {
		m := New(make([]Scenario, len(c.findings)), make([]Defect, 1))
		for s, f := range c.findings {
			f.Answer = harness.Fail
			m.SetReference(s, &harness.Verdict{Answer: harness.Pass})
			m.Set(0, s, &harness.Verdict{Answer: harness.Fail, Findings: []harness.Finding{{Answer: harness.Pass, Share: -9, HasMargin: true}, f}})
		}
		got, ok := m.Worst(0)
		assert.True(t, ok)
		assert.Equal(t, c.want, got, c.reason)
	}
	_, ok := drawn("pp", "pu").Worst(0)
	assert.False(t, ok, "nothing fails")
}

func TestCover(t *testing.T) {
	for _, c := range []struct {
		reason string
		rows   []string
		want   []int
	}{
		{"one that catches all", []string{"ppp", "fpf", "ppf"}, []int{2}},
		{"the first of equals", []string{"pp", "ff"}, []int{0}},
		{"what slips through needs no scenario", []string{"pp", "pf", "pp"}, []int{1}},
		{"nothing caught, nothing needed", []string{"pp", "pp"}, nil},
		{"an unsound scenario is never taken", []string{"fp", "ff", "fp"}, []int{1}},
		{"the greedy first step is dropped when the next two make it needless", []string{"ppp", "ffp", "ffp", "fpf", "fpf", "pfp", "ppf"}, []int{1, 2}},
	} {
		assert.Equal(t, c.want, drawn(c.rows...).Cover(), c.reason)
	}
}

// The cover is held against every subset of small matrices: it covers, nothing in it is needless, and it has at
// most 1 + 1/2 + ... + 1/n times the members of the smallest (Chvatal 1979).
func TestCoverAgainstEverySubset(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		scenarios, defects := rapid.IntRange(1, 8).Draw(t, "scenarios"), rapid.IntRange(1, 8).Draw(t, "defects")
		rows := []string{""}
		for range scenarios {
			rows[0] += rapid.SampledFrom([]string{"p", "p", "p", "f"}).Draw(t, "honest")
		}
		for range defects {
			row := ""
			for range scenarios {
				row += rapid.SampledFrom([]string{"p", "f", "u"}).Draw(t, "cell")
			}
			rows = append(rows, row)
		}
		m := drawn(rows...)
		covers := func(set uint) bool {
			return len(m.uncaught(filter(scenarios, func(s int) bool { return set>>s&1 == 1 }))) == 0
		}
		var mine uint
		for _, s := range m.Cover() {
			mine |= 1 << s
		}
		require.True(t, covers(mine))
		least := scenarios
		for set := range uint(1) << scenarios {
			if covers(set) {
				least = min(least, bits.OnesCount(set))
			}
		}
		harmonic := 0.0
		for n := range defects {
			harmonic += 1 / float64(n+1)
		}
		require.LessOrEqual(t, float64(bits.OnesCount(mine)), harmonic*float64(least))
		for s := range scenarios {
			require.False(t, mine>>s&1 == 1 && covers(mine&^(1<<s)), "scenario %d is needless", s)
		}
	})
}
