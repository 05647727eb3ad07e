//go:build linux

package firmwarecontract

import (
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"drystage/harness"
	"drystage/harness/link"
	"drystage/harness/verdict"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// codeLines counts the lines of C with code on them.
func codeLines(text string) (n int) {
	text = regexp.MustCompile(`(?s)/\*.*?\*/`).ReplaceAllString(text, "")
	for l := range strings.Lines(text) {
		if strings.TrimSpace(l) != "" {
			n++
		}
	}
	return n
}

// TestLinesOfANewcomer counts what README says that a user writes.
func TestLinesOfANewcomer(t *testing.T) {
	readme, err := os.ReadFile("README.md")
	require.NoError(t, err)
	m := regexp.MustCompile("`ports/avr/smallest.c`[^.]*?(\\d+) lines of code").FindSubmatch(readme)
	require.NotNil(t, m, "README says how many lines a newcomer writes")
	said, _ := strconv.Atoi(string(m[1]))
	smallest, err := os.ReadFile("ports/avr/smallest.c")
	require.NoError(t, err)
	n := codeLines(string(smallest))
	assert.Equal(t, said, n, "README's number")
	assert.LessOrEqual(t, n, 60)
	assert.Greater(t, n, 30)
}

// TestSmallestFlies flies the smallest board, on an emulated ATmega328P, through a whole flight.
func TestSmallestFlies(t *testing.T) {
	if raceOn {
		t.Skip("emulators are not raced; make suite flies them without")
	}
	p := ports[1]
	dir := p.build(t)
	plan := planOf(t, "testdata/smallest.yaml")
	rec := fly(t, plan, func(string) (link.Link, error) {
		return link.Open(t.Context(), "exec:"+dir+"/bridge --mcu=atmega328p "+dir+"/smallest-avr.elf", link.Options{})
	})
	v := verdict.Judge(rec)
	require.NotEmpty(t, v.Findings)
	for _, f := range v.Findings {
		assert.Equal(t, harness.Pass, f.Answer, "%s: %s", f.Text, f.Reason)
	}
}
