package logs

import (
	"bytes"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/logs/logtest"
)

// TestPlainLogsAreRead: a log of the second source, in SI with its units told, is read to the number.
func TestPlainLogsAreRead(t *testing.T) {
	r := logtest.Draw(5)
	r.Rate, r.BaroEvery, r.GNSSEvery, r.Own, r.Clip = 50, 2, 10, false, 0
	l := logtest.Fly(r)
	text, _ := l.Write(logtest.Plain())
	got, err := ReadText(bytes.NewReader(text), "plain.csv", nil, Options{}, nil)
	require.NoError(t, err)
	for _, c := range l.Columns {
		ch, ok := channelNamed(c.Is)
		if !ok {
			continue
		}
		s := &got.Streams[ch.Part]
		i := 0
		for row, x := range c.X {
			if math.IsNaN(x) {
				continue
			}
			require.Less(t, i, s.Len(), c.Is)
			y, ok := s.Value(i, ch.Index)
			require.True(t, ok, "%s row %d", c.Is, row)
			require.InDelta(t, x, y, 0.06, "%s row %d", c.Is, row)
			require.InDelta(t, l.T[row], s.Times[i].Seconds(), 1e-4)
			i++
		}
		assert.Equal(t, s.Len(), i, c.Is)
	}
}
