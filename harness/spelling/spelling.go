// Package spelling suggests the right word for a misspelt one.
package spelling

import "fmt"

// Nearest gives the word with the smallest edit distance to a wrong one, the first of equals. It gives "" if none is
// within three edits, or if the edits aren't fewer than the word's letters.
func Nearest(wrong string, words []string) string {
	best, least := "", 4
	for _, w := range words {
		if d := distance(wrong, w); d < least && d < len(w) {
			best, least = w, d
		}
	}
	return best
}

// Hint is a hint with the nearest word, such as `did you mean "serial"?`, or "".
func Hint(wrong string, words []string) string {
	if w := Nearest(wrong, words); w != "" {
		return fmt.Sprintf("did you mean %q?", w)
	}
	return ""
}

// distance is the Levenshtein distance: insertions, deletions and replacements of bytes.
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
