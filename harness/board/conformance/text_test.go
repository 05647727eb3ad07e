package conformance

import (
	"bytes"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/board/boardtest"
)

func TestTextFits(t *testing.T) {
	hostile := Report{Points: []Point{{Name: "x", Sent: "a", Came: "\x1b[31m\u202e" + strings.Repeat("long", 60), Why: "w", Outcome: Fail}}}
	guest := Run(t.Context(), guestLink(boardtest.InventsOutputs), Options{})
	for _, r := range []*Report{&hostile, &guest} {
		for line := range strings.Lines(text(r)) {
			assert.LessOrEqual(t, len([]rune(strings.TrimSuffix(line, "\n"))), 80, line)
			assert.NotContains(t, line, "\x1b")
			assert.NotContains(t, line, "\u202e")
		}
	}
	var b bytes.Buffer
	require.NoError(t, Text(&b, &guest, TextOptions{Brief: true}))
	assert.Less(t, b.Len(), len(text(&guest)))
	assert.Contains(t, b.String(), "are on when the board starts", "a failure is never brief")
	assert.Error(t, Text(broken{}, &guest, TextOptions{}))
}

type broken struct{}

func (broken) Write([]byte) (int, error) { return 0, os.ErrClosed }
