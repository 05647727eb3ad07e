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

var rewrite = flag.Bool("rewrite", false, "write messages.go from the table")

// TestMessagesAreFresh: messages.go is what the table makes. After a change of the table run
// `go generate ./harness/contract`.
func TestMessagesAreFresh(t *testing.T) {
	want := generate(t)
	if *rewrite {
		require.NoError(t, os.WriteFile("messages.go", want, 0o644))
	}
	have, err := os.ReadFile("messages.go")
	require.NoError(t, err)
	require.Equal(t, string(want), string(have), "stale: run go generate ./harness/contract")
}

func generate(t *testing.T) []byte {
	var b bytes.Buffer
	b.WriteString("// Code generated from the table by go generate; DO NOT EDIT.\n\npackage contract\n\n")
	b.WriteString("// The codes of the messages.\nconst (\n")
	for _, m := range table {
		fmt.Fprintf(&b, "Code%s Code = 0x%02x\n", goName(m.Name), uint8(m.Code))
	}
	b.WriteString(")\n\n// String gives the message's name, or the code in hexadecimal if the table has none.\n")
	b.WriteString("func (c Code) String() string {\nswitch c {\n")
	for _, m := range table {
		fmt.Fprintf(&b, "case Code%s: return %q\n", goName(m.Name), m.Name)
	}
	b.WriteString("}\nconst hex = \"0123456789abcdef\"\nreturn string([]byte{'0', 'x', hex[c>>4], hex[c&15]})\n}\n")
	for _, m := range table {
		generateType(&b, m)
		generateEncode(&b, m)
		generateDecode(&b, m)
	}
	src, err := format.Source(b.Bytes())
	require.NoError(t, err, b.String())
	return src
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
	n := fmt.Sprint(size)
	fmt.Fprintf(b, "\n// %s appends the frame of a %s message to dst.\nfunc (e *Encoder) %s(dst []byte, m *%s) []byte {\n", name, m.Name, name, name)
	if most > size {
		last := goName(m.Fields[len(m.Fields)-1].Name)
		fmt.Fprintf(b, "tail := m.%s[:min(len(m.%s), MaxTail)]\n", last, last)
		n += "+len(tail)"
	}
	into := "dst, p :="
	if len(m.Fields) == 0 {
		into = "dst, _ ="
	}
	fmt.Fprintf(b, "%s e.open(dst, Code%s, %s)\n", into, name, n)
	at := 0
	for _, f := range m.Fields {
		fmt.Fprintf(b, goPut[f.Type]+"\n", at, goName(f.Name))
		at += f.Type.Size()
	}
	fmt.Fprintf(b, "return e.shut(dst, %s)\n}\n", n)
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

var goPut = map[Type]string{
	U8:     "p[%d] = m.%s",
	U16:    "le.PutUint16(p[%d:], m.%s)",
	U32:    "le.PutUint32(p[%d:], m.%s)",
	I16:    "le.PutUint16(p[%d:], uint16(m.%s))",
	I32:    "le.PutUint32(p[%d:], uint32(m.%s))",
	Text16: "copy(p[%d:], m.%s[:])",
	Text24: "copy(p[%d:], m.%s[:])",
	Tail:   "copy(p[%[1]d:], tail)",
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
