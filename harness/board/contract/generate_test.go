package contract

import (
	"bytes"
	"flag"
	"fmt"
	"go/format"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

var rewrite = flag.Bool("rewrite", false, "write the messages' files from the table")

// files are the generated ones, with the messages that each holds.
var files = []struct {
	name  string
	holds func(Message) bool
}{
	{"messages_samples.go", func(m Message) bool { return m.From == FromHost && m.Code>>4 == CodeIMU>>4 }},
	{"messages_host.go", func(m Message) bool { return m.From == FromHost && m.Code>>4 != CodeIMU>>4 }},
	{"messages_board.go", func(m Message) bool { return m.From == FromBoard }},
}

// TestMessagesAreFresh: the files of the messages are what the table makes. After a change of the table run
// `go generate ./harness/board/contract`.
func TestMessagesAreFresh(t *testing.T) {
	fresh(t, "messages_codes.go", generateCodes)
	for _, f := range files {
		fresh(t, f.name, func(b *bytes.Buffer) {
			for _, m := range table {
				if f.holds(m) {
					generateType(b, m)
					generateEncode(b, m)
					generateDecode(b, m)
				}
			}
		})
	}
}

func fresh(t *testing.T, file string, generate func(*bytes.Buffer)) {
	var b bytes.Buffer
	b.WriteString("// Code generated from the table by go generate; DO NOT EDIT.\n\npackage contract\n\n")
	generate(&b)
	want, err := format.Source(b.Bytes())
	require.NoError(t, err, b.String())
	if *rewrite {
		require.NoError(t, os.WriteFile(file, want, 0o644))
	}
	have, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, string(want), string(have), "%s is stale: run go generate ./harness/board/contract", file)
}

func generateCodes(b *bytes.Buffer) {
	b.WriteString("// The codes of the messages.\nconst (\n")
	for _, m := range table {
		fmt.Fprintf(b, "Code%s Code = 0x%02x\n", goName(m.Name), uint8(m.Code))
	}
	b.WriteString(")\n\n// String gives the message's name, or the code in hexadecimal if the table has none.\n")
	b.WriteString("func (c Code) String() string {\nswitch c {\n")
	for _, m := range table {
		fmt.Fprintf(b, "case Code%s: return %q\n", goName(m.Name), m.Name)
	}
	b.WriteString("}\nconst hex = \"0123456789abcdef\"\nreturn string([]byte{'0', 'x', hex[c>>4], hex[c&15]})\n}\n")
}

func generateType(b *bytes.Buffer, m Message) {
	name := goName(m.Name)
	fmt.Fprintf(b, "\n// %s is %s (%s). %s\ntype %s struct {\n", name, m.Name, m.From, m.Meaning, name)
	for _, f := range m.Fields {
		meaning := f.Meaning
		if f.Unit != "" {
			meaning = f.Unit + "; " + meaning
		}
		fmt.Fprintf(b, "%s %s // %s\n", goName(f.Name), goTypes[f.Type], meaning)
	}
	b.WriteString("}\n")
}

func generateEncode(b *bytes.Buffer, m Message) {
	name := goName(m.Name)
	size, most := m.Sizes()
	fmt.Fprintf(b, "\n// %s appends the frame of a %s message to dst.\nfunc (e *Encoder) %s(dst []byte, m *%s) []byte {\n", name, m.Name, name, name)
	fmt.Fprintf(b, "p, first := e.open(Code%s)\n", name)
	list := words(m)
	if most > size {
		for i, w := range list {
			fmt.Fprintf(b, "le.PutUint64(p[%d:], %s)\n", i*word, w)
		}
		last := goName(m.Fields[len(m.Fields)-1].Name)
		fmt.Fprintf(b, "n := copy(p[%d:%d], m.%s)\nreturn e.shut(dst, %d+n)\n}\n", head+size, head+most, last, size)
		return
	}
	end := head + size
	at, bits, n := end/word, end%word*8, end+check
	for i, w := range list[:at] {
		fmt.Fprintf(b, "le.PutUint64(p[%d:], %s)\n", i*word, w)
	}
	last := ""
	if bits > 0 { // what stands behind the end there is not summed
		fmt.Fprintf(b, "last := %s\nle.PutUint64(p[%d:], last|behind<<%d)\n", list[at], at*word, bits)
		last = "last|"
	}
	fmt.Fprintf(b, "crc := e.sum(%d)\n", end)
	last += fmt.Sprintf("crc<<%d", bits)
	if n/word > at {
		fmt.Fprintf(b, "le.PutUint64(p[%d:], %s)\n", at*word, last)
		at++
		last = fmt.Sprintf("crc>>%d", 64-bits)
	}
	fmt.Fprintf(b, "le.PutUint64(p[%d:], %s|behind<<%d)\nreturn stuff(dst, &e.content, %d)\n}\n", at*word, last, n%word*8, n)
}

// words gives the words of a message's content, each as the sum of its parts: the head, and what of the fields
// lies in it.
func words(m Message) (list []string) {
	list = []string{"first"}
	add := func(at, size int, part string) {
		for len(list)*word < at+size {
			list = append(list, "")
		}
		put := func(w int, part string) {
			if list[w] != "" {
				part = list[w] + " | " + part
			}
			list[w] = part
		}
		w, low := at/word, at%word
		if low == 0 {
			put(w, part)
			return
		}
		put(w, fmt.Sprintf("%s<<%d", part, low*8))
		if low+size > word {
			put(w+1, fmt.Sprintf("%s>>%d", part, (word-low)*8))
		}
	}
	at := head
	for _, f := range m.Fields {
		if parts, ok := goParts[f.Type]; ok {
			for i, part := range parts {
				size := f.Type.Size() / len(parts)
				add(at+i*size, size, strings.ReplaceAll(part, "?", goName(f.Name)))
			}
		}
		at += f.Type.Size()
	}
	return list
}

func generateDecode(b *bytes.Buffer, m Message) {
	name := goName(m.Name)
	size, most := m.Sizes()
	wrong := fmt.Sprintf("len(p) != %d", size)
	note := ""
	if most > size {
		wrong = fmt.Sprintf("len(p) < %d || len(p) > %d", size, most)
		note = " The tail shares p's memory."
	}
	fmt.Fprintf(b, "\n// Decode takes the fields from the payload of a frame.%s The error is ErrLength.\n", note)
	fmt.Fprintf(b, "func (m *%s) Decode(p []byte) error {\nif %s { return ErrLength }\n", name, wrong)
	at := 0
	for _, f := range m.Fields {
		fmt.Fprintf(b, goGet[f.Type]+"\n", goName(f.Name), at)
		at += f.Type.Size()
	}
	b.WriteString("return nil\n}\n")
}

var goTypes = map[Type]string{U8: "uint8", U16: "uint16", U32: "uint32", I16: "int16", I32: "int32",
	Text16: "[16]byte", Text24: "[24]byte", Tail: "[]byte"}

// goParts are the parts of a field of at most a word each.
var goParts = map[Type][]string{
	U8:     {"uint64(m.?)"},
	U16:    {"uint64(m.?)"},
	U32:    {"uint64(m.?)"},
	I16:    {"uint64(uint16(m.?))"},
	I32:    {"uint64(uint32(m.?))"},
	Text16: {"le.Uint64(m.?[0:])", "le.Uint64(m.?[8:])"},
	Text24: {"le.Uint64(m.?[0:])", "le.Uint64(m.?[8:])", "le.Uint64(m.?[16:])"},
}

var goGet = map[Type]string{
	U8:     "m.%s = p[%d]",
	U16:    "m.%s = le.Uint16(p[%d:])",
	U32:    "m.%s = le.Uint32(p[%d:])",
	I16:    "m.%s = int16(le.Uint16(p[%d:]))",
	I32:    "m.%s = int32(le.Uint32(p[%d:]))",
	Text16: "m.%s = [16]byte(p[%d:])",
	Text24: "m.%s = [24]byte(p[%d:])",
	Tail:   "m.%s = p[%d:]",
}

// goName turns "imu_hz" and "HELLO" into IMUHz and Hello.
func goName(s string) string {
	var b strings.Builder
	for _, w := range strings.Split(strings.ToLower(s), "_") {
		switch w {
		case "imu", "gnss":
			b.WriteString(strings.ToUpper(w))
		default:
			b.WriteString(strings.ToUpper(w[:1]) + w[1:])
		}
	}
	return b.String()
}
