package link

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestSplit(t *testing.T) {
	for _, c := range []struct {
		reason, line string
		want         []string
	}{
		{"blanks", " board  -v\tx ", []string{"board", "-v", "x"}},
		{"single quotes keep all", `'a "b\ c' d`, []string{`a "b\ c`, "d"}},
		{"double quotes know two escapes", `"a \"b\" \\ \n"`, []string{`a "b" \ \n`}},
		{"a backslash outside", `a\ b \'`, []string{"a b", "'"}},
		{"an empty word", `a '' ""`, []string{"a", "", ""}},
		{"quotes inside a word", `--name='x y'z`, []string{"--name=x yz"}},
		{"nothing is expanded", `$HOME *.c ~ ; |`, []string{"$HOME", "*.c", "~", ";", "|"}},
	} {
		got, err := split(c.line)
		require.NoError(t, err, c.reason)
		assert.Equal(t, c.want, got, c.reason)
	}
	for _, line := range []string{`'a`, `"a`, `a\`, `"a\"`} {
		_, err := split(line)
		assert.Error(t, err, line)
	}
}

// Words quoted in any of the ways come back.
func TestSplitUndoesQuoting(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.SliceOfN(rapid.StringOf(rapid.SampledFrom([]rune(`ab '"\$`))), 1, 5).Draw(t, "words")
		quoted := make([]string, len(words))
		for i, w := range words {
			switch rapid.IntRange(0, 1).Draw(t, "way") {
			case 0:
				quoted[i] = `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(w) + `"`
			case 1:
				quoted[i] = `'` + strings.ReplaceAll(w, `'`, `'\''`) + `'`
			}
		}
		got, err := split(strings.Join(quoted, " "))
		require.NoError(t, err)
		require.Equal(t, words, got)
	})
}

// Distances as the textbook pairs have them: kitten/sitting is 3.
func TestLastWords(t *testing.T) {
	var copied strings.Builder
	w := &stderrTail{copy: &copied}
	for range 100 {
		_, _ = w.Write([]byte("0123456789\n"))
	}
	_, _ = w.Write([]byte("the\x1b[31m end\r\n"))
	assert.Len(t, w.kept, stderrTailSize, "memory is bounded")
	assert.True(t, strings.HasSuffix(w.String(), "0123456789 | the[31m end"), w.String())
	assert.Equal(t, 100*11+14, copied.Len())
}
