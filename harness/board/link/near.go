package link

import "drystage/harness/spelling"

// near gives a hint such as `; did you mean "serial"?`, or nothing when no word is close.
func near(word string, words []string) string {
	if hint := spelling.Hint(word, words); hint != "" {
		return "; " + hint
	}
	return ""
}
