package logs

import (
	"bufio"
	"fmt"
	"io"
	"runtime"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/sim"
)

var harnessPlace = harness.Place{File: "test"}

const head = "time [s],pressure [Pa]\n"

func utf16le(s string) string {
	b := []byte{0xff, 0xfe}
	for _, u := range utf16.Encode([]rune(s)) {
		b = append(b, byte(u), byte(u>>8))
	}
	return string(b)
}

var hostile = []struct{ reason, text, says string }{
	{"empty", "", "bad.csv:1:1"},
	{"blank lines only", "\n\n\n  \n", "bad.csv:1:1"},
	{"one line", "time,pressure\n", "bad.csv:1:1: found 1 lines"},
	{"only comments", "# a\n# b\n", "bad.csv:1:1"},
	{"a header without rows", "time [s],pressure [Pa]\ntime [s],pressure [Pa]\n", "no row of numbers"},
	{"binary", "\x7fELF\x02\x01\x01\x00\x00", "bad.csv:1:1: found control character 0x7f"},
	{"an image", "\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "bad.csv:1:1"},
	{"UTF-16", utf16le(head + "1,96000\n2,96000\n"), "bad.csv:1:1: found text in UTF-16"},
	{"UTF-16 big end first", "\xfe\xff\x00t\x00i", "UTF-16"},
	{"a NUL in a row", head + "1,96000\n2,96\x00000\n", "bad.csv:3:5: found control character 0x00"},
	{"NUL bytes of a torn flash page", head + "1,96000\n" + strings.Repeat("\x00", 500), "bad.csv:3:1: found control character 0x00"},
	{"one column", "pressure\n" + strings.Repeat("96000\n", 50), "not cut alike"},
	{"one column of words", strings.Repeat("hello\n", 50), "not cut alike"},
	{"50,000 columns", strings.Repeat("1,", 50000) + "1\n" + strings.Repeat("2,", 50000) + "2\n", "not cut alike"},
	{"a line without end", strings.Repeat("1,2,3,", 400000), "bad.csv:1:1: found a line longer than"},
	{"a long line in the middle", head + "1,96000\n2,96000\n" + strings.Repeat("9", 2<<20) + "\n", "bad.csv:4:1: found a line longer than"},
	{"mixed separators", "time;a,b\n1;2,3\n1,2,3,4\n\t1\t2\n1 2 3 4 5\n9\n", "bad.csv:"},
	{"prose", "It was a fine day.\nThe rocket flew, and then, alas,\nit did not.\n", "bad.csv:"},
	{"a web page", "<!DOCTYPE html>\n<html><body>\n<p>404</p>\n</body></html>\n", "bad.csv:"},
	{"JSON", "{\"time\": [1, 2, 3],\n \"p\": [4, 5, 6]}\n", "bad.csv:"},
	{"columns of unknown names", "a,b\n1,2\n2,3\n3,4\n", "none of which is known by its name"},
	{"time that only falls", "time [s],pressure [Pa]\n9,96000\n8,96000\n7,96000\n6,96000\n", "no column is known as the time"},
	{"time that stands still", "time [s],pressure [Pa]\n" + strings.Repeat("1,96000\n", 2) + "nan,nan\n", ""},
	{"numbers beyond all sense", head + strings.Repeat("1e308,1e308\n", 100), ""},
	{"infinities", head + strings.Repeat("inf,-inf\n", 100), "bad.csv:"},
	{"hexadecimal", head + strings.Repeat("0x10,0x20\n", 100), "bad.csv:"},
	{"quotes that never close", head + strings.Repeat("\"1,\"96000\n", 100), ""},
	{"nothing but delimiters", strings.Repeat(",,,,\n", 100), "bad.csv:"},
	{"latin-1 all over", strings.Repeat("\xe9\xe8\xe7\xe9,\xe9\n", 20), "bad.csv:1:1: found byte 0xe9"},
	{"rows that end too early", head + strings.Repeat("1\n", 100), "bad.csv:"},
	{"NMEA without checksums", strings.Repeat("$GPGGA,1,2,3\n", 100), "bad.csv:"},
	{"NMEA that is nothing", "$\n$$\n$*\n$*0\n", "bad.csv:"},
	{"NMEA with a wrong time", sentence("GPGGA,xxxxxx,,,,,1,,,,,,,,") + sentence("GPGGA,999999,,,,,1,,,,,,,,"), "bad.csv:"},
}

// TestSniff: what a file is shows in most of its lines, not in the first bytes.
func TestSniff(t *testing.T) {
	gga := sentence("GPGGA,101500.00,4706.0000,N,00830.0000,E,1,09,0.9,450.5,M,47.0,M,,")
	for _, c := range []struct {
		reason, text string
		want         Kind
	}{
		{"sentences", gga + gga, NMEA},
		{"one sentence", gga, NMEA},
		{"a first line that is cut", ",N,00830.0000,E*11\r\n" + gga + gga, NMEA},
		{"a greeting of the receiver", "receiver on\r\n" + gga + gga, NMEA},
		{"a byte order mark", "\xef\xbb\xbf" + gga + gga, NMEA},
		{"blank lines first", "\r\n\r\n" + gga, NMEA},
		{"many that go on behind what is looked at", strings.Repeat(gga, 100), NMEA},
		{"a table", head + "1,2\n", Table},
		{"a table with one sentence in it", head + gga + "1,2\n1,2\n", Table},
		{"a name with a dollar", "$t,$p\n1,2\n2,3\n", Table},
		{"nothing", "", Table},
		{"a record", "drystage record 1\n", Record},
	} {
		assert.Equal(t, c.want, Sniff(bufio.NewReader(strings.NewReader(c.text))), c.reason)
	}
}

// TestHostile: a clear message with its place, or a log; never a panic, never much memory.
func TestHostile(t *testing.T) {
	require.GreaterOrEqual(t, len(hostile), 30)
	for _, c := range hostile {
		t.Run(c.reason, func(t *testing.T) {
			l, err := ReadText(strings.NewReader(c.text), "bad.csv", nil, Options{}, nil)
			if c.says == "" {
				if err == nil {
					assert.NotZero(t, l.Samples())
				}
				return
			}
			require.ErrorContains(t, err, c.says)
		})
	}
}

func FuzzRead(f *testing.F) {
	for _, c := range hostile {
		if len(c.text) < 4096 {
			f.Add(c.text, false)
		}
	}
	f.Add(head+"1,96000\n1.02,95990\n", true)
	m := &Mapping{Kind: "mapping", Delimiter: "comma", Decimal: "point", Header: 1, Time: Clock{Column: "#1", Unit: "s"}, Columns: []Column{{Column: "#2", Is: "barometer pressure", Unit: "Pa"}, {Column: "#3", Is: "output 1"}, {Column: "#4", Is: "command"}}}
	f.Fuzz(func(t *testing.T, text string, mapped bool) {
		use := m
		if !mapped {
			use = nil
		}
		l, err := ReadText(strings.NewReader(text), "x", use, Options{}, nil)
		if err != nil {
			return
		}
		for p := range l.Streams {
			s := &l.Streams[p]
			for i := range s.Times {
				if i > 0 && s.Times[i] <= s.Times[i-1] {
					t.Fatalf("part %d: time %d after %d", p, s.Times[i], s.Times[i-1])
				}
			}
			for _, d := range s.Data {
				if d != nil && len(d) != s.Len() {
					t.Fatalf("part %d: %d values at %d times", p, len(d), s.Len())
				}
			}
		}
		if err := Write(io.Discard, l); err != nil {
			t.Fatal(err)
		}
	})
}

// endless gives rows as long as they are wanted.
type endless struct {
	left, i int
	buf     []byte
}

func (e *endless) Read(p []byte) (int, error) {
	if len(e.buf) == 0 {
		if e.left <= 0 {
			return 0, io.EOF
		}
		for range 100 {
			e.buf = fmt.Appendf(e.buf, "%.3f,%.4f,0.01,-0.02,0.001,0.002,0.003,%d,%d,%d,%d,%d,%d\n", float64(e.i)*0.001, 9.8, 96000+e.i%7, e.i, e.i, e.i, e.i, e.i)
			e.i++
		}
		e.left -= len(e.buf)
	}
	n := copy(p, e.buf)
	e.buf = e.buf[n:]
	return n, nil
}

// TestMemoryIsBounded: a long log is kept in its compact form, and one that is too long is refused.
func TestMemoryIsBounded(t *testing.T) {
	m := &Mapping{Kind: "mapping", Delimiter: "comma", Decimal: "point", Time: Clock{Column: "#1", Unit: "s"}}
	for i, w := range []string{"accelerometer x", "accelerometer y", "accelerometer z"} {
		m.Columns = append(m.Columns, Column{Column: fmt.Sprintf("#%d", i+2), Is: w, Unit: "m/s2"})
	}
	m.Columns = append(m.Columns, Column{Column: "#8", Is: "barometer pressure", Unit: "Pa"})
	size := 20 << 20
	if testing.Short() {
		size = 4 << 20
	}
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	l, err := ReadTable(&endless{left: size}, "long.csv", m, Options{})
	require.NoError(t, err)
	runtime.GC()
	runtime.ReadMemStats(&after)
	per := float64(after.HeapAlloc-before.HeapAlloc) / float64(l.Samples())
	t.Logf("%d samples of a log of %d MB take %.1f bytes each", l.Samples(), size>>20, per)
	assert.Less(t, per, 40.0)
	_, err = ReadTable(&endless{left: size}, "long.csv", m, Options{Most: 10000})
	require.ErrorContains(t, err, "long.csv:5001:1: found more than 10000 samples")
}

// TestRoomIsMadeOnce: of a file, whose size is known, columns get their room at once, and little more than they need.
func TestRoomIsMadeOnce(t *testing.T) {
	text := rows("t_s,a(g),p_Pa", 60000, func(i int) string {
		p := ""
		if i%4 == 0 {
			p = fmt.Sprint(96000 - i/100)
		}
		return fmt.Sprintf("%08.3f,1.00%d,%s", float64(i)*0.001, i%10, p)
	})
	l, err := ReadText(strings.NewReader(text), "long.csv", nil, Options{}, nil)
	require.NoError(t, err)
	for _, p := range []sim.Part{sim.PartAccel, sim.PartBaro} {
		s := &l.Streams[p]
		assert.Less(t, float64(cap(s.Times)), 1.05*float64(s.Len()), "part %d", p)
	}
}
