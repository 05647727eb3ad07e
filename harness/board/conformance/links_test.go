package conformance

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board/boardtest"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/harness/board/link/linktest"
)

// recorder keeps what went over a link, in order.
type recorder struct {
	link.Link
	bytes   []byte
	matters []bool // a byte of a sound frame
	host    *contract.Decoder
}

func (r *recorder) Instant() bool { return true }

func (r *recorder) Write(b []byte) (int, error) {
	for frame := range bytes.SplitAfterSeq(b, []byte{0}) {
		_, _, sound := r.host.Next(frame)
		r.keep(frame, sound)
	}
	return r.Link.Write(b)
}

func (r *recorder) Read(b []byte) (int, error) {
	n, err := r.Link.Read(b)
	r.keep(b[:n], true)
	return n, err
}

func (r *recorder) keep(b []byte, matters bool) {
	r.bytes = append(r.bytes, b...)
	for range b {
		r.matters = append(r.matters, matters)
	}
}

// TestSpoiltLinksNeverPass: with a bit flipped in any sound frame, or a link that is cut anywhere, the whole does not
// pass, and a good board does not fail.
func TestSpoiltLinksNeverPass(t *testing.T) {
	rec := &recorder{Link: mockLink(t, ""), host: contract.NewDecoder(contract.FromHost)}
	r := Run(t.Context(), rec, Options{Settings: mockSets})
	require.Equal(t, harness.Pass, r.Answer())
	const bye = 9 // the last frame, whose loss nobody can see, with its delimiter in front
	total := len(rec.bytes) - bye
	flips := 0
	for n := 2; n < total; n += 1 + n/2 {
		r := Run(t.Context(), linktest.CutAfter(mockLink(t, ""), n), Options{Settings: mockSets})
		require.Equal(t, harness.Unsure, r.Answer(), "cut after %d of %d: %s", n, total, text(&r))
	}
	for n := 1; n < total; n += 1 + total/25 {
		if !rec.matters[n] {
			continue
		}
		flips++
		r := Run(t.Context(), linktest.Flip(mockLink(t, ""), n), Options{Settings: mockSets})
		require.Equal(t, harness.Unsure, r.Answer(), "byte %d of %d flipped: %q %q", n, total, named(&r, Fail), named(&r, Unsure))
	}
	for n := 1; n < min(total, 12000); n += 229 {
		if !rec.matters[n] {
			continue
		}
		flips++
		r := Run(t.Context(), linktest.Flip(mockLink(t, ""), n), Options{Settings: mockSets})
		require.Equal(t, harness.Unsure, r.Answer(), "byte %d of %d flipped: %q %q", n, total, named(&r, Fail), named(&r, Unsure))
	}
	require.Greater(t, flips, 50)
}

// TestFlawsOverSpoiltLinks: noise never makes a failing board pass.
func TestFlawsOverSpoiltLinks(t *testing.T) {
	for flaw := boardtest.Mute; flaw <= boardtest.DeniesArming; flaw++ {
		for _, n := range []int{20, 300, 3000, 30000} {
			r := Run(t.Context(), linktest.Flip(guestLink(flaw), n), Options{Settings: guestSets})
			assert.NotEqual(t, harness.Pass, r.Answer(), "flaw %d, byte %d", flaw, n)
		}
	}
}

func TestSameSeedSameBytes(t *testing.T) {
	var runs [2][]byte
	for i := range runs {
		rec := &recorder{Link: mockLink(t, ""), host: contract.NewDecoder(contract.FromHost)}
		Run(t.Context(), rec, Options{Seed: 5, Settings: mockSets})
		runs[i] = rec.bytes
	}
	assert.True(t, bytes.Equal(runs[0], runs[1]))
}
