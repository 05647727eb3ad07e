package link

import (
	"io"
	"strings"
	"sync"
)

// keptWords is how much of a program's standard error is kept for messages, in bytes.
const keptWords = 600

// lastWords keeps the end of what is written to it, and copies it all.
type lastWords struct {
	copy io.Writer // nil: nowhere

	mu   sync.Mutex
	kept []byte
}

// Write never fails: a program must not stall because nobody reads its complaints.
func (w *lastWords) Write(b []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.copy != nil {
		_, _ = w.copy.Write(b)
	}
	w.kept = append(w.kept, b...)
	if n := len(w.kept) - keptWords; n > 0 {
		w.kept = append(w.kept[:0], w.kept[n:]...)
	}
	return len(b), nil
}

// String gives the kept words in one line, without control characters.
func (w *lastWords) String() string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return flat(string(w.kept))
}

// flat makes one line of text that people's terminals can't be steered by.
func flat(text string) string {
	clean := strings.Map(func(r rune) rune {
		if r == '\n' {
			return '|'
		}
		if r < ' ' || r == 0x7f {
			return -1
		}
		return r
	}, strings.TrimSpace(text))
	return strings.ReplaceAll(clean, "|", " | ")
}
