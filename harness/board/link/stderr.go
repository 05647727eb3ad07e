package link

import (
	"io"
	"strings"
	"sync"
)

// stderrTailSize is how much of a program's standard error is kept for messages, in bytes.
const stderrTailSize = 600

// stderrTail keeps the end of what is written to it, and copies everything.
type stderrTail struct {
	copy io.Writer // nil: nowhere

	mu   sync.Mutex
	kept []byte
}

// Write never fails: a program must not stall because nobody reads its standard error.
func (w *stderrTail) Write(b []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.copy != nil {
		_, _ = w.copy.Write(b)
	}
	w.kept = append(w.kept, b...)
	if n := len(w.kept) - stderrTailSize; n > 0 {
		w.kept = append(w.kept[:0], w.kept[n:]...)
	}
	return len(b), nil
}

// String gives the kept text in one line, without control characters.
func (w *stderrTail) String() string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return oneLine(string(w.kept))
}

// oneLine makes one line of text without control characters.
func oneLine(text string) string {
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
