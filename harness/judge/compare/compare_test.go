package compare_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"drystage/harness"
	"drystage/harness/judge/compare"
)

func finding(text string, a harness.Answer, share float64) harness.Finding {
	return harness.Finding{Text: text, Answer: a, Margin: share, Share: share, Unit: "s", HasMargin: true}
}

func TestChanges(t *testing.T) {
	bare := harness.Finding{Text: "x", Answer: harness.Pass}
	metres := finding("x", harness.Pass, 0.9)
	metres.Unit = "m"
	for _, c := range []struct {
		reason  string
		was, is harness.Finding
		want    compare.Change
	}{
		{"equal", finding("x", harness.Pass, 0.5), finding("x", harness.Pass, 0.5), compare.Same},
		{"hardly less", finding("x", harness.Pass, 0.5), finding("x", harness.Pass, 0.496), compare.Same},
		{"less", finding("x", harness.Pass, 0.5), finding("x", harness.Pass, 0.49), compare.Worse},
		{"more", finding("x", harness.Pass, 0.5), finding("x", harness.Pass, 0.51), compare.Better},
		{"it fails now", finding("x", harness.Pass, 0.5), finding("x", harness.Fail, -0.5), compare.Failing},
		{"it was unsure and fails now", finding("x", harness.Unsure, 0), finding("x", harness.Fail, -0.5), compare.Failing},
		{"it fails by more", finding("x", harness.Fail, -0.5), finding("x", harness.Fail, -0.6), compare.Worse},
		{"it fails by less", finding("x", harness.Fail, -0.5), finding("x", harness.Fail, -0.4), compare.Better},
		{"it passes now", finding("x", harness.Fail, -0.5), finding("x", harness.Pass, 0.5), compare.Mended},
		{"it is unsure now", finding("x", harness.Pass, 0.5), finding("x", harness.Unsure, 0.5), compare.Doubtful},
		{"it failed and is unsure", finding("x", harness.Fail, -0.5), finding("x", harness.Unsure, -0.5), compare.Better},
		{"no margins", bare, bare, compare.Same},
		{"a margin in another unit proves nothing", finding("x", harness.Pass, 0.5), metres, compare.Same},
	} {
		was, is := harness.Verdict{Name: "a", Findings: []harness.Finding{c.was}}, harness.Verdict{Name: "a", Findings: []harness.Finding{c.is}}
		got := compare.Of([]harness.Verdict{was}, []harness.Verdict{is})
		assert.Equal(t, c.want, got.Worst(), c.reason)
		assert.Equal(t, 1, got.Same+len(got.Differences), c.reason)
	}
}

func TestScenariosAndExpectationsThatComeAndGo(t *testing.T) {
	pass, fail := finding("one", harness.Pass, 0.5), finding("two", harness.Fail, -0.1)
	was := []harness.Verdict{{Name: "a", Digest: "1", Findings: []harness.Finding{pass, pass}}, {Name: "left"}}
	is := []harness.Verdict{{Name: "a", Digest: "2", Findings: []harness.Finding{pass, fail}}, {Name: "b"}}
	c := compare.Of(was, is)
	assert.Equal(t, []string{"a"}, c.Other)
	assert.Equal(t, []string{"b"}, c.Missing)
	assert.Equal(t, []string{"left"}, c.Left)
	assert.Equal(t, 1, c.Same, "of two with the same text one is left")
	assert.Equal(t, 1, c.Count(compare.Failing), "what is new and fails is newly failing")
	assert.Equal(t, 1, c.Count(compare.Gone))
	assert.Equal(t, compare.Failing, c.Differences[0].Change, "the gravest first")
	assert.Equal(t, "newly failing", c.Worst().String())
	assert.Len(t, compare.Words(), int(compare.Failing)+1)
}
