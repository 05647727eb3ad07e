package codecoverage

import (
	"encoding/binary"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Opcodes as in the tables of the AVR Instruction Set Manual, Microchip DS40002198.
func TestBranches(t *testing.T) {
	for _, c := range []struct {
		reason string
		words  []uint16
		at     []uint32 // of the branches
		flips  bool
	}{
		{"BREQ +2", []uint16{0xF011}, []uint32{100}, true},
		{"BRNE -4", []uint16{0xF7E1}, []uint32{100}, true},
		{"BRTC, BRIE", []uint16{0xF40E, 0xF007}, []uint32{100, 102}, true},
		{"SBRC r17, 0; SBRS r17, 7", []uint16{0xFD10, 0xFF17}, []uint32{100, 102}, true},
		{"BLD, BST aren't branches", []uint16{0xF917, 0xFB17}, nil, true},
		{"SBIC 3, 1; SBIS 3, 1", []uint16{0x9919, 0x9B19}, []uint32{100, 102}, true},
		{"CBI, SBI aren't branches", []uint16{0x9819, 0x9A19}, nil, true},
		{"CPSE r18, r18 has no opposite", []uint16{0x1322}, []uint32{100}, false},
		{"CP, CPC, SUB aren't branches", []uint16{0x1722, 0x0722, 0x1B22}, nil, true},
		{"the second word of LDS, STS, JMP, CALL is none", []uint16{0x9110, 0xF011, 0x9310, 0xF011, 0x940C, 0xF011, 0x940E, 0xF011}, nil, true},
		{"RJMP, RCALL, RET, IJMP, LPM are one word", []uint16{0xC001, 0xF011, 0xD001, 0xF011, 0x9508, 0xF011, 0x9409, 0xF011, 0x9104, 0xF011}, []uint32{102, 106, 110, 114, 118}, true},
	} {
		t.Run(c.reason, func(t *testing.T) {
			var code []byte
			for _, w := range c.words {
				code = binary.LittleEndian.AppendUint16(code, w)
			}
			var p Program
			p.branches(code, 100)
			var at []uint32
			for _, b := range p.Branches {
				at = append(at, b.Address)
				require.Equal(t, c.flips, b.Flips)
			}
			require.Equal(t, c.at, at)
		})
	}
}

// two has two lines; a branch in an inlined function on the second.
func two() *Program {
	place := func(n int) Place { return Place{"/src/a.c", n} }
	p := &Program{File: "a.elf", rows: []row{{0, place(7), true, false}, {4, place(8), true, false}, {6, place(8), false, false}, {8, place(8), false, true}}}
	p.Branches = []Branch{{Address: 6, Place: p.placeOf(6), Functions: around([]function{{0, 8, "outer"}, {4, 8, "inner"}}, 6)}}
	return p
}

func TestMeasure(t *testing.T) {
	s := NewSuite(two())
	s.Add("first-flight", &Counts{[]uint64{3, 3, 3, 3}, []uint64{0, 0, 0, 3}})
	require.Equal(t, "always jumped", s.Files()[0].Lines[1].Branches[0].Missing())
	s.Add("second", &Counts{[]uint64{1, 1, 1, 1}, []uint64{0, 0, 0, 0}})
	s.Add("never up", &Counts{})
	files := s.Files()
	require.Equal(t, []int{1, 1, 0}, s.Alone())
	require.Equal(t, Total{2, 2, 2, 2}, Sum(files))
	require.Equal(t, Total{2, 0, 2, 0}, s.Flown[2].Total)
	var b strings.Builder
	require.NoError(t, WriteLCOV(&b, "a-test", files))
	require.Equal(t, `TN:a_test
SF:/src/a.c
BRDA:8,0,0,1
BRDA:8,0,1,3
BRF:2
BRH:2
DA:7,4
DA:8,4
LF:2
LH:2
end_of_record
`, b.String())
	b.Reset()
	require.NoError(t, WriteLCOV(&b, "", two().Measure(&Counts{})))
	require.Contains(t, b.String(), "BRDA:8,0,0,-\n", "a branch that was never executed")
}

func TestIn(t *testing.T) {
	b := two().Branches[0]
	require.Equal(t, []string{"inner", "outer"}, b.Functions)
	for pattern, in := range map[string]bool{"inner": true, "out.*": true, "out": false, `a\.c:.*`: true, "inn|inner": true, `b\.c:.*`: false} {
		require.Equal(t, in, b.In(regexp.MustCompile(pattern)), pattern)
	}
}

func TestWrongFiles(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "x")
	require.NoError(t, os.WriteFile(file, make([]byte, 17), 0o644))
	_, err := Read(file)
	require.ErrorContains(t, err, "found 17 bytes; wanted 16 for each word")
	_, err = Open(file)
	require.ErrorContains(t, err, "wanted an ELF file made by avr-gcc")
	self, err := os.Executable()
	require.NoError(t, err)
	_, err = Open(self)
	require.Error(t, err)
	require.NotContains(t, err.Error(), "EM_AVR")
}
