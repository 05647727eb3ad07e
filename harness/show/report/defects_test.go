package report

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/judge/defects"
)

// fourBoards is a matrix with one defect of each answer and one that most scenarios catch.
func fourBoards() *defects.Matrix {
	m := defects.New(
		[]defects.Scenario{{Name: "nominal", File: "s/nominal.yaml", Seed: 1}, {Name: "tilted", File: "s/tilted.yaml", Seed: 1<<64 - 1},
			{Name: "weak", File: "s/weak.yaml", Seed: 1}, {Name: "noisy", File: "s/noisy.yaml", Seed: 1}, {Name: "broken", File: "s/broken.yaml", Seed: 1}},
		[]defects.Defect{
			{Name: "ignores-tilt", Accident: "It goes sideways.", Hint: "Tilt it."},
			{Name: "axial-sign-reversed", Accident: "It sees no boost.", Hint: "Fly it."},
			{Name: "restarts", Accident: "It forgets.", Hint: "Cut the supply."},
			{Name: "no-checksum", Accident: "A bit flips.", Hint: "Flip bits on the line in the climb, and demand the drogue at apogee."},
		})
	pass := &harness.Verdict{Answer: harness.Pass, Findings: []harness.Finding{{Text: "ok", Answer: harness.Pass}}}
	fail := func(text string, share float64) *harness.Verdict {
		return &harness.Verdict{Answer: harness.Fail, Findings: []harness.Finding{{Text: text, Answer: harness.Fail, Reason: "it did",
			Share: share, Margin: share * 20, Unit: "deg", HasMargin: share != 0}}}
	}
	for s := range 4 {
		m.SetReference(s, pass)
		for d := range m.Defects {
			m.Set(d, s, pass)
		}
	}
	m.SetReference(4, fail("the main fires late", 0))
	m.Set(0, 1, fail("sustainer.ignite never fires while sustainer tilt above 20 deg and \x1b[31mso on", -1.93))
	for _, s := range []int{0, 1, 3} {
		m.Set(1, s, fail("sustainer.drogue fires", 0))
	}
	m.Set(2, 2, &harness.Verdict{Findings: []harness.Finding{{Text: "sustainer: the link is whole", Reason: "1 frame lost"}}})
	return m
}

func TestDefects(t *testing.T) {
	var b strings.Builder
	require.NoError(t, Defects(&b, fourBoards(), Options{}))
	golden(t, "defects.txt", b.String())
	for line := range strings.Lines(b.String()) {
		assert.LessOrEqual(t, columns(strings.TrimSuffix(line, "\n")), 80, line)
	}
	b.Reset()
	require.NoError(t, Defects(&b, fourBoards(), Options{Color: true}))
	assert.Contains(t, b.String(), "\x1b[1;31mSLIPPED no-checksum\x1b[0m: 4 scen")
	assert.NotContains(t, b.String(), "[31mso on", "what files say paints nothing")
	require.ErrorIs(t, Defects(&b, defects.New(nil, nil), Options{}), ErrEmpty)
	require.ErrorIs(t, DefectsJSON(&b, defects.New(nil, nil), Options{}), ErrEmpty)
}

func TestDefectsWithoutASoundScenario(t *testing.T) {
	var b strings.Builder
	m := defects.New([]defects.Scenario{{Name: "broken"}}, []defects.Defect{{Name: "x"}})
	require.NoError(t, Defects(&b, m, Options{}))
	assert.Contains(t, b.String(), "no scenario passes on the honest board")
	assert.Contains(t, b.String(), "broken was not flown")
	assert.Contains(t, b.String(), "0 caught, 0 slipped through, 1 unsure")
}

func TestDefectsJSON(t *testing.T) {
	var b strings.Builder
	require.NoError(t, DefectsJSON(&b, fourBoards(), Options{}))
	type cell struct {
		Text   string `json:"expectation"`
		Reason string
		Share  *float64
	}
	var got struct {
		Answer                  string
		Caught, Slipped, Unsure int
		Defects                 []struct {
			Answer, Worst string
			CaughtBy      []cell `json:"caught_by"`
			UnsureIn      []cell `json:"unsure_in"`
		}
		Scenarios []struct {
			Seed, Honest string
			Why          *cell
			Alone        []string
		}
		Cover []string `json:"greedy_cover"`
	}
	require.NoError(t, json.Unmarshal([]byte(b.String()), &got))
	assert.NotContains(t, b.String(), "null")
	assert.Equal(t, "fail", got.Answer)
	assert.Equal(t, []int{2, 1, 1}, []int{got.Caught, got.Slipped, got.Unsure})
	require.Len(t, got.Defects, 4)
	assert.Equal(t, "s/tilted.yaml", got.Defects[0].Worst)
	assert.Equal(t, -1.93, *got.Defects[0].CaughtBy[0].Share)
	assert.Nil(t, got.Defects[1].CaughtBy[0].Share, "a finding without a margin has none here")
	assert.Equal(t, []string{"caught", "caught", "unsure", "slipped"}, []string{got.Defects[0].Answer, got.Defects[1].Answer, got.Defects[2].Answer, got.Defects[3].Answer})
	assert.Equal(t, "1 frame lost", got.Defects[2].UnsureIn[0].Reason)
	assert.Equal(t, []string{"s/tilted.yaml"}, got.Cover)
	assert.Equal(t, []string{"ignores-tilt"}, got.Scenarios[1].Alone)
	assert.Equal(t, "18446744073709551615", got.Scenarios[1].Seed)
	assert.Equal(t, "fail", got.Scenarios[4].Honest)
	assert.Equal(t, "the main fires late", got.Scenarios[4].Why.Text)
	assert.Nil(t, got.Scenarios[0].Why)
}
