package board_test

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board/boardtest"
	"drystage/harness/board/link"
)

// echoing answers the last TICK of a session twice, as when the line doubles it: found by run 370314 of
// the corrupted runs, where the second DONE told of frames refused and nobody read it.
type echoing struct {
	link.Device
	left int // writes until then
	more []byte
}

func (g *echoing) Feed(in, out []byte) []byte {
	n := len(out)
	out = g.Device.Feed(in, out)
	if g.left--; g.left == 0 {
		out = append(out, bytes.Clone(out[n:])...)
		out = append(out, g.more...)
	}
	return out
}

// TestStray: frames after the last DONE of a run make the link unsure.
func TestStray(t *testing.T) {
	count := &echoing{Device: boardtest.NewFake(boardtest.None)}
	_, err := boardtest.Fly(t.Context(), client(link.Memory(count)))
	require.NoError(t, err)
	for _, c := range []struct {
		reason string
		more   []byte
		bad    int
	}{
		{"REPORT and DONE come twice", nil, 2},
		{"and half a frame", []byte{5, 1, 2}, 3},
		{"and garbage", []byte{5, 1, 2, 0, 1, 0, 7}, 5},
	} {
		b := client(link.Memory(&echoing{Device: boardtest.NewFake(boardtest.None), left: -count.left, more: c.more}))
		_, err := boardtest.Fly(t.Context(), b)
		require.NoError(t, err)
		h := b.Health()
		assert.Equal(t, c.bad, h.Bad, c.reason)
		assert.False(t, h.Faultless())
		assert.Equal(t, h, b.Health(), "asking changes nothing")
	}
	assert.True(t, (&harness.Health{}).Faultless())
}
