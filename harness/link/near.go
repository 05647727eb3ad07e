package link

import "fmt"

// near gives a hint such as `; did you mean "serial"?`, or nothing when no word is close.
func near(word string, words []string) string {
	best, least := "", 3
	for _, w := range words {
		if d := distance(word, w); d < least {
			best, least = w, d
		}
	}
	if best == "" || least >= len(best) {
		return ""
	}
	return fmt.Sprintf("; did you mean %q?", best)
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
