package files

import (
	"slices"

	"drystage/harness/spelling"
)

// near gives a hint with the nearest right spelling, or nothing when no word is close.
func near(word string, words []string) string {
	if w := spelling.Nearest(word, words); w != "" && w != word {
		return "did you mean `" + w + "`?"
	}
	return ""
}

// oneOf joins words for a message.
func oneOf(words []string) string {
	out := ""
	for i, w := range words {
		switch {
		case i > 0 && i == len(words)-1:
			out += " or "
		case i > 0:
			out += ", "
		}
		out += "`" + w + "`"
	}
	return out
}

func contains(words []string, w string) bool { return slices.Contains(words, w) }
