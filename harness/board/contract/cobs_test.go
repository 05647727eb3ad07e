package contract

import (
	"bytes"
	"encoding/hex"
	"hash/crc32"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// longest is the longest content of a frame.
const longest = maxFrame - 1

func stuffed(plain []byte) []byte {
	var c content
	copy(c.bytes[:], plain)
	le.PutUint64(c.bytes[len(plain):], behind)
	return stuff(nil, &c, len(plain))
}

// unstuffed takes a frame at the end of what has come and in front of more, which must not matter.
func unstuffed(line []byte) (plain []byte, ok bool) {
	slow := slices.Clone(line)
	ok = unstuff(slow)
	for _, behind := range [][]byte{{0}, {0, 1, 2, 3, 4, 5, 6, 7, 8}, make([]byte, 9), bytes.Repeat([]byte{0, 1}, 40)} {
		var c content
		switch n := c.unstuffShort(append(slices.Clone(line), behind...)); {
		case n != 0 && (n != uint(len(line)) || !ok || !bytes.Equal(c.bytes[:n-1], slow[1:])):
			panic("not what the slow path gives")
		case n == 0 && ok && len(line) <= short && len(line)+len(behind) >= word:
			panic("not taken")
		}
	}
	return slow[1:], ok
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
		{"the longest frame, without a zero", hex.EncodeToString(run(1, longest)), hex.EncodeToString(run(longest+1, longest+1)) + hex.EncodeToString(run(1, longest))},
		{"the longest frame, all zeros", strings.Repeat("00", longest), strings.Repeat("01", longest+1)},
	} {
		plain, want := unhex(t, c.plain), unhex(t, c.stuffed)
		assert.Equal(t, append(want, 0), stuffed(plain), c.reason)
		assert.Equal(t, want, slowStuff(plain), c.reason)
		back, ok := unstuffed(want)
		require.True(t, ok, c.reason)
		assert.Equal(t, plain, back, c.reason)
		require.True(t, slowUnstuff(want), c.reason)
		assert.Equal(t, plain, want[1:], c.reason)
	}
}

// Frames never need more than one block; these published vectors check the slow path alone.
func TestCOBSVectorsOfMoreBlocks(t *testing.T) {
	cat := func(bs ...[]byte) []byte { return bytes.Join(bs, nil) }
	for _, c := range []struct {
		reason         string
		plain, stuffed []byte
	}{
		{"254 bytes are one block", run(1, 254), cat([]byte{255}, run(1, 254))},
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
		plain := rapid.SliceOfN(rapid.SampledFrom([]byte{0, 0, 1, 0x80, 0x7f, 0xff, 0x01}), 0, longest).Draw(t, "plain")
		b := stuffed(plain)
		require.Equal(t, append(slowStuff(plain), 0), b, "both paths agree")
		b = b[:len(b)-1]
		require.NotContains(t, b, byte(0), "no zero is left")
		back, ok := unstuffed(b)
		require.True(t, ok)
		require.Equal(t, plain, back, "there and back")
		b[rapid.IntRange(0, len(b)-1).Draw(t, "at")] = rapid.ByteMin(1).Draw(t, "damage")
		back, ok = unstuffed(b)
		require.Equal(t, slowUnstuff(b), ok, "both paths refuse the same")
		if ok {
			require.Equal(t, b[1:], back)
		}
	})
}

func TestCOBSRefuses(t *testing.T) {
	_, ok := unstuffed([]byte{5, 0x11})
	assert.False(t, ok, "a distance beyond the end")
	for _, c := range []struct{ reason, stuffed string }{
		{"nothing at all", ""},
		{"a distance beyond the end", "0511"},
		{"a zero inside", "02110000"},
		{"a zero in front", "00"},
	} {
		assert.False(t, slowUnstuff(unhex(t, c.stuffed)), c.reason)
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
