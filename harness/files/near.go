package files

import "slices"

// near gives a hint with the nearest right spelling, or nothing when no word is close.
func near(word string, words []string) string {
	best, least := "", 4
	for _, w := range words {
		if d := distance(word, w); d < least {
			best, least = w, d
		}
	}
	if best == "" || best == word || least >= len(best) {
		return ""
	}
	return "did you mean `" + best + "`?"
}

// distance is the Levenshtein distance of two words in bytes.
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := diagonal
			if a[i] != b[j] {
				cost++
			}
			diagonal = row[j+1]
			row[j+1] = min(cost, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
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
