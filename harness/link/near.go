package link

import (
	"fmt"

	"drystage/harness/spelling"
)

// near gives a hint such as `; did you mean "serial"?`, or nothing when no word is close.
func near(word string, words []string) string {
	if w := spelling.Nearest(word, words); w != "" {
		return fmt.Sprintf("; did you mean %q?", w)
	}
	return ""
}
