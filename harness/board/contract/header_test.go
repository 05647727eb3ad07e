package contract

import (
	"bytes"
	"fmt"
	"hash/crc32"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const firmware = "../../../firmware-contract"

// TestMessagesAreFreshInC: what lies in firmware-contract is what the table makes. After a change of
// the table run `go generate ./harness/board/contract`.
func TestMessagesAreFreshInC(t *testing.T) {
	spec := filepath.Join(firmware, "SPEC.md")
	text, err := os.ReadFile(spec)
	require.NoError(t, err)
	before, rest, ok := bytes.Cut(text, []byte(SpecBegin))
	require.True(t, ok, "SPEC.md has lost its first marker")
	_, after, ok := bytes.Cut(rest, []byte(SpecEnd))
	require.True(t, ok, "SPEC.md has lost its second marker")

	for name, want := range map[string][]byte{
		spec: bytes.Join([][]byte{before, []byte(SpecBegin), SpecTables(), []byte(SpecEnd), after}, nil),
		filepath.Join(firmware, "include", "drystage_messages.h"): Header(),
		filepath.Join(firmware, "vectors", "messages.txt"):        VectorText(),
		filepath.Join(firmware, "vectors", "corrupt.txt"):         CorruptText(),
	} {
		if *rewrite {
			require.NoError(t, os.WriteFile(name, want, 0o644))
		}
		have, err := os.ReadFile(name)
		require.NoError(t, err)
		require.Equal(t, string(want), string(have), "%s is stale: run go generate ./harness/board/contract", name)
	}
}

func TestHeader(t *testing.T) {
	h := string(Header())
	for _, m := range table {
		assert.Contains(t, h, "#define DRYSTAGE_"+m.Name+" 0x")
		for _, f := range m.Fields {
			assert.Contains(t, h, f.Name, m.Name)
		}
		least, most := m.Sizes()
		assert.True(t, m.From == FromBoard || least == most, "%s: drystage_host_size has one size for each message", m.Name)
	}
	assert.NotContains(t, h, "%!", "every field type has its lines in C")
}

// TestVectors: golden frames come from the table alone; the structs' own methods are the second path.
func TestVectors(t *testing.T) {
	seen := map[Code]int{}
	for _, v := range Vectors() {
		m := v.Message
		seen[m.Code]++
		f, rest, ok := NewDecoder(m.From).Next(v.Line)
		require.True(t, ok, m.Name)
		require.Empty(t, rest)
		assert.Equal(t, Frame{m.Code, v.Seq, f.Payload}, f, m.Name)
		assert.True(t, bytes.Equal(v.Payload, f.Payload), m.Name)
		msg := all()[m.Code]
		require.NoError(t, decode(msg, f.Payload))
		assert.Equal(t, encode(&Encoder{seq: v.Seq}, m, msg), v.Line, m.Name)
		assert.Equal(t, slowEncode(m, v.Seq, msg), v.Line, m.Name)
	}
	assert.Len(t, seen, len(table))
}

// TestSpoiltVectors: the expectations are written by hand beside the bytes.
func TestSpoiltVectors(t *testing.T) {
	var all Counts
	names := map[string]bool{}
	for _, s := range CorruptVectors() {
		assert.False(t, names[s.Name], "%s: named twice", s.Name)
		names[s.Name] = true
		d := NewDecoder(FromHost)
		assert.Equal(t, s.Frames, count(d, s.Line), s.Name)
		assert.Equal(t, s.Counts, d.Counts, s.Name)
		all = Counts{all.COBS + s.Counts.COBS, all.Long + s.Counts.Long, all.CRC + s.Counts.CRC,
			all.Unknown + s.Counts.Unknown, all.Length + s.Counts.Length, all.Lost + s.Counts.Lost}
	}
	assert.NotZero(t, all.COBS*all.Long*all.CRC*all.Unknown*all.Length*all.Lost, "each kind of damage is in it")
}

// TestSpecExample: the frame that SPEC.md takes apart is what the encoder makes.
func TestSpecExample(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(firmware, "SPEC.md"))
	require.NoError(t, err)
	var e Encoder
	assert.True(t, bytes.Contains(text, fmt.Appendf(nil, "line   % x\n", e.Tick(nil, &Tick{Time: 0x00010200}))))
	assert.True(t, bytes.Contains(text, fmt.Appendf(nil, "`123456789` it is 0x%08X.", crc32.Checksum([]byte("123456789"), castagnoli))))
}
