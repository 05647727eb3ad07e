package contract

import (
	"bytes"
	"encoding/hex"
	"hash/crc32"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// slowStuff is COBS as its paper tells it, for any length, byte by byte: the second path.
func slowStuff(src []byte) []byte {
	dst := []byte{0}
	code := 0
	for i, c := range src {
		if c != 0 {
			dst = append(dst, c)
		}
		if c == 0 || len(dst)-code == 255 && i+1 < len(src) {
			dst[code] = byte(len(dst) - code)
			code = len(dst)
			dst = append(dst, 0)
		}
	}
	dst[code] = byte(len(dst) - code)
	return dst
}

func run(from, to int) (b []byte) {
	for i := from; i <= to; i++ {
		b = append(b, byte(i))
	}
	return b
}

func unhex(t *testing.T, s string) []byte {
	b, err := hex.DecodeString(s)
	require.NoError(t, err)
	return b
}

// The header example is Cheshire and Baker's, IEEE/ACM Trans. Networking 7(2), 1999 (from memory,
// recomputed); the short ones are widely republished beside it.
func TestCOBSVectors(t *testing.T) {
	for _, c := range []struct{ reason, plain, stuffed string }{
		{"nothing", "", "01"},
		{"one zero", "00", "0101"},
		{"two zeros", "0000", "010101"},
		{"a zero at both ends", "001100", "01021101"},
		{"a zero inside", "11220033", "0311220233"},
		{"no zero", "11223344", "0511223344"},
		{"zeros behind", "11000000", "0211010101"},
		{"the paper's IP header", "4500002c4c79000040064f37", "024501042c4c79010540064f37"},
		{"254 bytes are one block", hex.EncodeToString(run(1, 254)), "ff" + hex.EncodeToString(run(1, 254))},
	} {
		plain, want := unhex(t, c.plain), unhex(t, c.stuffed)
		b := append([]byte{0}, plain...)
		stuff(b)
		assert.Equal(t, want, b, c.reason)
		assert.Equal(t, want, slowStuff(plain), c.reason)
		require.True(t, unstuff(b), c.reason)
		assert.Equal(t, plain, append([]byte{}, b[1:]...), c.reason)
	}
}

// Frames never need more than one block; these published vectors check the slow path alone.
func TestCOBSVectorsOfMoreBlocks(t *testing.T) {
	cat := func(bs ...[]byte) []byte { return bytes.Join(bs, nil) }
	for _, c := range []struct {
		reason         string
		plain, stuffed []byte
	}{
		{"zero, then a full block", cat([]byte{0}, run(1, 254)), cat([]byte{1, 255}, run(1, 254))},
		{"a full block and one byte", run(1, 255), cat([]byte{255}, run(1, 254), []byte{2, 255})},
		{"a full block, then zero", cat(run(2, 255), []byte{0}), cat([]byte{255}, run(2, 255), []byte{1, 1})},
		{"253 bytes, zero, one byte", cat(run(3, 255), []byte{0, 1}), cat([]byte{254}, run(3, 255), []byte{2, 1})},
	} {
		assert.Equal(t, c.stuffed, slowStuff(c.plain), c.reason)
	}
}

func TestCOBSLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		plain := rapid.SliceOfN(rapid.SampledFrom([]byte{0, 0, 1, 0x80, 0x7f, 0xff, 0x01}), 0, maxBlock).Draw(t, "plain")
		b := append([]byte{0}, plain...)
		stuff(b)
		require.Equal(t, slowStuff(plain), b, "both paths agree")
		require.NotContains(t, b, byte(0), "no zero is left")
		require.True(t, unstuff(b))
		require.Equal(t, plain, append([]byte{}, b[1:]...), "there and back")
	})
}

func TestCOBSRefuses(t *testing.T) {
	for _, c := range []struct{ reason, stuffed string }{
		{"nothing at all", ""},
		{"a distance beyond the end", "0511"},
		{"a zero inside", "02110000"},
		{"a zero in front", "00"},
	} {
		assert.False(t, unstuff(unhex(t, c.stuffed)), c.reason)
	}
}

// RFC 3720 appendix B.4 gives the bytes on the wire, which are the value's little-endian bytes.
func TestCRCVectors(t *testing.T) {
	for _, c := range []struct {
		reason string
		in     []byte
		wire   string
	}{
		{"32 bytes of zeros", make([]byte, 32), "aa36918a"},
		{"32 bytes of ones", bytes.Repeat([]byte{0xff}, 32), "43aba862"},
		{"32 rising bytes", run(0, 31), "4e79dd46"},
		{"32 falling bytes", unhex(t, "1f1e1d1c1b1a191817161514131211100f0e0d0c0b0a09080706050403020100"), "5cdb3f11"},
		{"a SCSI read command", unhex(t, "01c000000000000000000000000000001400000000000400000000140000001828000000000000000200000000000000"), "563a96d9"},
		{"the catalogue's check string", []byte("123456789"), "839206e3"},
	} {
		assert.Equal(t, c.wire, hex.EncodeToString(le.AppendUint32(nil, crc32.Update(0, castagnoli, c.in))), c.reason)
	}
}
