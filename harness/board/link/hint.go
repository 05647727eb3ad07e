package link

import "drystage/harness/spelling"

// hint gives a text such as `; did you mean "serial"?`, or nothing if no word is similar.
func hint(word string, words []string) string {
	if hint := spelling.Hint(word, words); hint != "" {
		return "; " + hint
	}
	return ""
}
