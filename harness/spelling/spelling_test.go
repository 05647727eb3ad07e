package spelling

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestNearest(t *testing.T) {
	words := []string{"liftoff", "apogee", "landing", "x"}
	for _, c := range []struct{ reason, wrong, want string }{
		{"one letter missing", "apoge", "apogee"},
		{"two letters swapped", "litfoff", "liftoff"},
		{"a word of its own", "separation", ""},
		{"as many edits as letters prove nothing", "y", ""},
		{"nothing written", "", ""},
	} {
		require.Equal(t, c.want, Nearest(c.wrong, words), c.reason)
		hint := ""
		if c.want != "" {
			hint = `did you mean "` + c.want + `"?`
		}
		require.Equal(t, hint, Hint(c.wrong, words), c.reason)
	}
}

// The distance of words must obey the laws of a distance, and the textbook case: W. Wagner and
// M. Fischer, The String-to-String Correction Problem, J. ACM 21 (1974); kitten to sitting takes 3.
func TestDistance(t *testing.T) {
	require.Equal(t, 3, distance("kitten", "sitting"))
	rapid.Check(t, func(t *rapid.T) {
		word := rapid.StringMatching(`[a-c]{0,6}`)
		a, b, c := word.Draw(t, "a"), word.Draw(t, "b"), word.Draw(t, "c")
		if distance(a, b) != distance(b, a) || distance(a, a) != 0 || distance(a, c) > distance(a, b)+distance(b, c) {
			t.Fatalf("%q %q %q", a, b, c)
		}
	})
}
