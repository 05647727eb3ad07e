package main

import (
	"io"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board/mock"
	"drystage/harness/files/suite"
	"drystage/harness/judge/hazards"
	"drystage/harness/judge/verdict"
	"drystage/harness/run"
)

var firstDefect = regexp.MustCompile("(?m)^- defects: `([^ ]+) \\(([^)]+)\\)`")

// TestPageOfHazards: every hazard has a scenario that tries it and a wrong board that proves that, the first of which is
// flown again; every scenario and every known defect is on the page.
func TestPageOfHazards(t *testing.T) {
	text, err := os.ReadFile("../../HAZARDS.md")
	require.NoError(t, err)
	page := string(text)
	const hint = "; `make hazards` writes the page again"
	for _, d := range mock.Defects() {
		assert.Contains(t, page, "`"+d.Name+" (", "a hazard that this defect shows%s", hint)
	}
	s, err := suite.Load(nil, io.Discard)
	require.NoError(t, err)
	inLockstep(s.Plans)
	plans := map[string][]harness.Plan{}
	for i := range s.Plans {
		plans[s.Plans[i].Name] = s.Plans[i : i+1]
		assert.True(t, strings.Contains(page, "`"+s.Plans[i].Name+"`"), "the scenario %s%s", s.Plans[i].Name, hint)
	}
	b, err := run.Open(t.Context(), run.Options{Jobs: 1}, s.Plans)
	require.NoError(t, err)
	defer b.Close()
	flown := 0
	for _, h := range hazards.All() {
		_, part, is := strings.Cut(page, "\n## "+h.Word()+"\n")
		require.True(t, is, "%s%s", h.Word(), hint)
		part, _, _ = strings.Cut(part, "\n## ")
		assert.NotContains(t, part, "Tried by nothing", h.Word())
		assert.Contains(t, part, "\n- ", "a wrong board that proves %s", h.Word())
		m := firstDefect.FindStringSubmatch(part)
		if m == nil {
			continue // proved by a firmware or a mutant, which have tests of their own
		}
		flown++
		require.NotEmpty(t, plans[m[2]], "%s: %s%s", h.Word(), m[2], hint)
		require.NoError(t, b.Defect(m[1]).Fly(t.Context(), plans[m[2]], func(_ int, rec *harness.Record) error {
			v := verdict.Judge(rec)
			assert.Equal(t, harness.Fail, v.Answer, "%s: %s in %s%s", h.Word(), m[1], m[2], hint)
			assert.True(t, hazards.Of(rec, &v).Has(h), "%s: %s in %s%s", h.Word(), m[1], m[2], hint)
			return nil
		}))
	}
	assert.Greater(t, flown, 10)
}
