package harness

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestDeciding(t *testing.T) {
	finding := func(a Answer, share float64) Finding {
		return Finding{Text: a.String(), Answer: a, Share: share, HasMargin: true}
	}
	dark := Finding{Text: "dark", Answer: Fail}
	for _, c := range []struct {
		reason string
		v      Verdict
		want   string
	}{
		{"the smallest of those that fail, not of those that pass", Verdict{Answer: Fail, Findings: []Finding{finding(Pass, -2), finding(Fail, -1)}}, "fail"},
		{"a pass hangs on its closest", Verdict{Answer: Pass, Findings: []Finding{finding(Pass, 0.5)}}, "pass"},
		{"without a margin, the first that fails", Verdict{Answer: Fail, Findings: []Finding{{Text: "u"}, dark, {Text: "later", Answer: Fail}}}, "dark"},
		{"a margin tells more than none", Verdict{Answer: Fail, Findings: []Finding{dark, finding(Fail, -1)}}, "fail"},
		{"a pass without any margin hangs on nothing", Verdict{Answer: Pass, Findings: []Finding{{Answer: Pass}}}, ""},
		{"an answer that no finding has", Verdict{Answer: Fail, Findings: []Finding{finding(Pass, 1)}}, ""},
		{"nothing was asked", Verdict{}, ""},
	} {
		f, ok := c.v.Deciding()
		assert.Equal(t, c.want, f.Text, c.reason)
		assert.Equal(t, c.want != "", ok, c.reason)
	}
}

func TestCount(t *testing.T) {
	for _, c := range []struct {
		reason  string
		answers []Answer
		want    Answer
	}{
		{"nothing counted proves nothing", nil, Unsure},
		{"all pass", []Answer{Pass, Pass}, Pass},
		{"one unsure", []Answer{Pass, Unsure}, Unsure},
		{"fail before unsure", []Answer{Unsure, Fail, Pass}, Fail},
	} {
		var n Count
		for _, a := range c.answers {
			n.Add(a)
		}
		assert.Equal(t, len(c.answers), n.All(), c.reason)
		assert.Equal(t, c.want, n.Answer(), c.reason)
		if len(c.answers) > 0 {
			assert.Equal(t, slices.MinFunc(c.answers, Answer.Compare), n.Answer(), "%s: the worst of them", c.reason)
		}
	}
}
