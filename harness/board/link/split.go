package link

import (
	"errors"
	"strings"
)

// split divides a line into words as a shell does, without any expansion. Blanks separate words; '...' keeps all
// characters; "..." keeps all but \" and \\; outside of quotes \x is x.
func split(line string) ([]string, error) {
	var words []string
	var word strings.Builder
	var quote byte
	inside := false // a word has begun, even if it is empty
	for i := 0; i < len(line); i++ {
		c := line[i]
		switch {
		case quote != 0 && c == quote:
			quote = 0
		case c == '\\' && quote != '\'' && (quote == 0 || i+1 < len(line) && strings.IndexByte(`"\`, line[i+1]) >= 0):
			if i++; i == len(line) {
				return nil, errors.New(`a backslash stands at the end; write \\ for a backslash`)
			}
			word.WriteByte(line[i])
			inside = true
		case quote != 0:
			word.WriteByte(c)
		case c == '\'' || c == '"':
			quote, inside = c, true
		case c == ' ' || c == '\t' || c == '\n':
			if inside {
				words = append(words, word.String())
				word.Reset()
				inside = false
			}
		default:
			word.WriteByte(c)
			inside = true
		}
	}
	if quote != 0 {
		return nil, errors.New("the quote " + string(quote) + " is not closed")
	}
	if inside {
		words = append(words, word.String())
	}
	return words, nil
}
