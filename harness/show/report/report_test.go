package report

import (
	"bytes"
	"errors"
	"flag"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"drystage/harness"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// suiteOfThree has a pass, a fail with three kinds of findings, and an unsure one.
func suiteOfThree() []harness.Verdict {
	place := harness.Place{File: "scenarios/early-spike.yaml", Line: 31, Column: 5}
	return []harness.Verdict{
		{
			Name: "nominal", Title: "A good flight", Answer: harness.Pass, Seed: 1, File: "scenarios/nominal.yaml", Digest: "00ff",
			Boards:         []harness.Health{{Name: "mock", Boots: 1, RoundTrips: 900}},
			BoardAddresses: []harness.BoardAddress{{Role: "sustainer", Address: "exec:\u202efly"}, {Role: "booster"}},
			Findings: []harness.Finding{
				{Text: "fires: sustainer.drogue, from: apogee - 0.5 s, to: apogee + 1.5 s", Answer: harness.Pass, HasMargin: true, Margin: 0.48, Unit: "s", Share: 0.48, Reason: "in time"},
				{Text: "firing: sustainer.ignite, quantity: tilt, at_most: 20 deg", Answer: harness.Pass, HasMargin: true, Margin: 13.25, Unit: "deg", Share: 0.6625, Reason: "upright"},
			},
		},
		{
			Name: "early-spike", Title: "A pressure spike in boost must not open the drogue, however high it is", Answer: harness.Fail, Seed: 7,
			File: place.File, Digest: "11ee",
			Findings: []harness.Finding{
				{
					Text: "fires: sustainer.drogue, from: apogee - 0.5 s, to: apogee + 1.5 s", Place: place, Answer: harness.Fail,
					HasMargin: true, Margin: -8.225, Unit: "s", Share: -8.225, Wanted: "first on 12.345 s to 14.345 s", Seen: "on at 4.120 s +- 1 ms",
					Reason: "sustainer.drogue switched on at 4.120 s +- 1 ms, 8.225 s before the window opens",
				},
				{Text: "alive: sustainer", Answer: harness.Pass, Reason: "it answered"},
				{Text: "sustainer: the link is whole", Answer: harness.Unsure, Reason: "from the board 0 corrupt and 3 missing frames, to the board 0 corrupt and 0 missing"},
			},
		},
		{
			Name: "Sämtliche Stufen 二段式ロケット with a name that does not end", Title: "Überlänge", Answer: harness.Unsure, Seed: math.MaxUint64,
			File: "scenarios/it's mine.yaml",
			Findings: []harness.Finding{{
				Text: "the run reaches its planned end", Answer: harness.Unsure,
				Reason: "the record was cut short at 5.000 s: board: exchange 412: open /dev/" + strings.Repeat("very", 30) + ": \x1b[31mno\x07 answer\r\nafter 50ms",
			}},
		},
	}
}

func options() Options {
	return Options{
		Repeat: " --board 'mock:early drogue'", Began: time.Date(2026, 11, 25, 14, 0, 0, 123456789, time.FixedZone("", 3600)),
		Took: 1234567 * time.Microsecond, Host: "bench", Made: harness.Maker{Version: "devel", Go: "go1.26", Arch: "linux/amd64", Boards: []string{"mock"}},
	}
}

func text(t testing.TB, write func(io.Writer, []harness.Verdict, Options) error, vs []harness.Verdict, opt Options) string {
	var b bytes.Buffer
	require.NoError(t, write(&b, vs, opt))
	return b.String()
}

func TestGoldens(t *testing.T) {
	color, narrow, wide := options(), options(), options()
	color.Color, narrow.Width, wide.Width = true, 60, 120
	for name, got := range map[string]string{
		"suite.txt":  text(t, Terminal, suiteOfThree(), options()),
		"color.txt":  text(t, Terminal, suiteOfThree(), color),
		"narrow.txt": text(t, Terminal, suiteOfThree(), narrow),
		"wide.txt":   text(t, Terminal, suiteOfThree(), wide),
		"pass.txt":   text(t, Terminal, suiteOfThree()[:1], options()),
		"suite.json": text(t, JSON, suiteOfThree(), options()),
		"suite.xml":  text(t, JUnit, suiteOfThree(), options()),
	} {
		t.Run(name, func(t *testing.T) { golden(t, name, got) })
	}
}

// golden wants what a file of testdata holds.
func golden(t *testing.T, name, got string) {
	file := filepath.Join("testdata", name)
	if *update {
		require.NoError(t, os.WriteFile(file, []byte(got), 0o644))
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Equal(t, string(want), got, "%s: go test ./harness/show/report -update rewrites it; read the difference first", name)
}

var formats = map[string]func(io.Writer, []harness.Verdict, Options) error{"text": Terminal, "json": JSON, "junit": JUnit}

func TestAnEmptySuiteIsAnErrorInEveryFormat(t *testing.T) {
	for name, write := range formats {
		var b bytes.Buffer
		assert.ErrorIs(t, write(&b, nil, options()), ErrEmpty, name)
		assert.Empty(t, b.String(), name)
	}
}

// A pass is never shown for a verdict whose findings don't say so, nor the other way round.
func TestAVerdictAgainstItsFindingsIsNeverAllGreen(t *testing.T) {
	passing := harness.Finding{Text: "a", Answer: harness.Pass}
	for _, c := range []struct {
		reason string
		v      harness.Verdict
		says   string
	}{
		{"no findings", harness.Verdict{Name: "x"}, "it says unsure, and none of its 0 findings says why"},
		{"no findings, and yet a pass", harness.Verdict{Name: "x", Answer: harness.Pass}, "it says pass, and none of its 0"},
		{"a fail of which all findings pass", harness.Verdict{Name: "x", Answer: harness.Fail, Findings: append(make([]harness.Finding, 0, 2), passing)}, "it says fail, and none of its 1"},
		{"a pass with an unsure finding", harness.Verdict{Name: "x", Answer: harness.Pass, Findings: []harness.Finding{passing, {Text: "b", Reason: "it has doubts"}}}, "it has doubts"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			vs, n := []harness.Verdict{c.v}, len(c.v.Findings)
			for name, write := range formats {
				assert.Contains(t, text(t, write, vs, options()), c.says, name)
			}
			assert.Contains(t, text(t, JUnit, vs, options()), `errors="1"`)
			for _, f := range vs[0].Findings[:cap(vs[0].Findings)][n:] {
				assert.Empty(t, f.Text, "the verdict itself stays as it was")
			}
		})
	}
}

func TestTheTableShowsWhatDecided(t *testing.T) {
	find := func(text string, a harness.Answer, share float64) harness.Finding {
		return harness.Finding{Text: text, Answer: a, Share: share, HasMargin: share != 0}
	}
	for _, c := range []struct {
		reason string
		answer harness.Answer
		fs     []harness.Finding
		want   string
	}{
		{"a pass: its smallest share", harness.Pass, []harness.Finding{find("a", harness.Pass, 0.5), find("b", harness.Pass, 0.2)}, "b"},
		{"a pass: what has no margin does not count", harness.Pass, []harness.Finding{find("a", harness.Pass, 0), find("b", harness.Pass, 0.2)}, "b"},
		{"a pass without any margin", harness.Pass, []harness.Finding{find("a", harness.Pass, 0)}, ""},
		{"a fail: never what passed", harness.Fail, []harness.Finding{find("a", harness.Pass, 0.1), find("b", harness.Fail, 0)}, "b"},
		{"a fail: the worst of them", harness.Fail, []harness.Finding{find("a", harness.Fail, 0), find("b", harness.Fail, -1), find("c", harness.Fail, -2)}, "c"},
		{"a fail: never what is unsure", harness.Fail, []harness.Finding{find("a", harness.Unsure, -3), find("b", harness.Fail, -1)}, "b"},
		{"unsure: the first", harness.Unsure, []harness.Finding{find("a", harness.Pass, 0.1), find("b", harness.Unsure, 0), find("c", harness.Unsure, 0)}, "b"},
		{"a fail that nothing explains", harness.Fail, []harness.Finding{find("a", harness.Pass, 0.1)}, ""},
	} {
		f, ok := Deciding(&harness.Verdict{Answer: c.answer, Findings: c.fs})
		assert.Equal(t, c.want, f.Text, c.reason)
		assert.Equal(t, c.want != "", ok, c.reason)
	}
}

// broken fails at byte n.
type broken struct{ left int }

var errFull = errors.New("disk full")

func (b *broken) Write(p []byte) (int, error) {
	if len(p) > b.left {
		return 0, errFull
	}
	b.left -= len(p)
	return len(p), nil
}

func TestAFailedWriteIsAnErrorInEveryFormat(t *testing.T) {
	for name, write := range formats {
		size := len(text(t, write, suiteOfThree(), options()))
		for _, n := range []int{0, 10, size / 2, size - 1} {
			assert.ErrorIs(t, write(&broken{n}, suiteOfThree(), options()), errFull, "%s, %d of %d bytes", name, n, size)
		}
	}
}

// whole says that a line is one that is never wrapped: to be pasted, or a place to go to.
func whole(line string) bool {
	return strings.HasPrefix(line, "  repeat: ") || strings.HasPrefix(line, "    at      ")
}

func TestTerminalFitsItsWidth(t *testing.T) {
	vs := suiteOfThree()
	place := "scenarios/" + strings.Repeat("deep/", 30) + "x.yaml"
	vs[1].Findings[0].Place.File = place
	vs[1].Findings[0].Margin = -1e300
	for _, width := range []int{0, 60, 80, 120} {
		got := text(t, Terminal, vs, Options{Width: width})
		if width == 0 {
			width = 80
		}
		for line := range strings.Lines(got) {
			if !whole(line) {
				assert.LessOrEqual(t, columns(strings.TrimSuffix(line, "\n")), width, line)
			}
			assert.Equal(t, line, strings.TrimRight(line, " \n")+"\n", "no space at the end of a line")
		}
		assert.Contains(t, got, "    at      "+place+":31:5\n", "a place stays whole")
	}
}

func TestTerminalSaysWhatCounts(t *testing.T) {
	got := text(t, Terminal, suiteOfThree(), options())
	for _, c := range []struct {
		reason, part string
		want         bool
	}{
		{"no colours unless asked for, and none from hostile text", "\x1b", false},
		{"the sum", "3 scenarios: 1 passed, 1 failed, 1 unsure\n", true},
		{"a line to paste", "  repeat: drystage bench scenarios/early-spike.yaml --seed 7 --board 'mock:early drogue'\n", true},
		{"a line to paste, quoted", `  repeat: drystage bench 'scenarios/it'\''s mine.yaml' --seed 18446744073709551615`, true},
		{"wanted", "    wanted  first on 12.345 s to 14.345 s\n", true},
		{"seen", "    seen    on at 4.120 s +- 1 ms\n", true},
		{"margin with its sign", "    margin  -8.225 s, -823 %\n", true},
		{"what passed is not listed", "it answered", false},
	} {
		assert.Equal(t, c.want, strings.Contains(got, c.part), c.reason)
	}
}

func TestColoursAddNothingButColour(t *testing.T) {
	opt := options()
	opt.Color = true
	colored := text(t, Terminal, suiteOfThree(), opt)
	for _, code := range []string{"\x1b[32m", "\x1b[1;31m", "\x1b[33m", "\x1b[0m"} {
		require.Contains(t, colored, code)
		colored = strings.ReplaceAll(colored, code, "")
	}
	assert.Equal(t, text(t, Terminal, suiteOfThree(), options()), colored)
}

func TestAnyTextFitsAnyWidth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := harness.Verdict{
			Name: rapid.String().Draw(t, "name"), Title: rapid.String().Draw(t, "title"), Answer: harness.Fail,
			Findings: []harness.Finding{{
				Text: rapid.String().Draw(t, "text"), Answer: harness.Fail, Reason: rapid.String().Draw(t, "reason"), HasMargin: true,
				Margin: rapid.Float64().Draw(t, "margin"), Share: rapid.Float64().Draw(t, "share"), Unit: rapid.String().Draw(t, "unit"),
			}},
		}
		opt := Options{Width: rapid.IntRange(60, 200).Draw(t, "width")}
		var b bytes.Buffer
		require.NoError(t, Terminal(&b, []harness.Verdict{v}, opt))
		for line := range strings.Lines(b.String()) {
			line = strings.TrimSuffix(line, "\n")
			if columns(line) > opt.Width && !whole(line) {
				t.Fatalf("%d columns of %d: %q", columns(line), opt.Width, line)
			}
			if Plain(line) != line {
				t.Fatalf("%q is not plain", line)
			}
		}
		require.NoError(t, JUnit(io.Discard, []harness.Verdict{v}, opt))
		require.NoError(t, JSON(io.Discard, []harness.Verdict{v}, opt))
	})
}

func TestWords(t *testing.T) {
	for _, c := range []struct{ reason, got, want string }{
		{"a sign always", Margin(&harness.Finding{Margin: 0.48, Unit: "s"}), "+0.48 s"},
		{"no unit", Margin(&harness.Finding{Margin: -0.5}), "-0.5"},
		{"small numbers keep three digits", Margin(&harness.Finding{Margin: 0.00012345, Unit: "s"}), "+0.000123 s"},
		{"large numbers stay short", Margin(&harness.Finding{Margin: 1e308}), "+1e+308"},
		{"infinity has one sign", Margin(&harness.Finding{Margin: math.Inf(1)}), "+Inf"},
		{"no number", Margin(&harness.Finding{Margin: math.NaN()}) + Percent(math.NaN()), "NaNNaN %"},
		{"nothing", Margin(&harness.Finding{Unit: "s"}), "+0 s"},
		{"half", Percent(0.5), "50 %"},
		{"far inside", Percent(1e300), ">999 %"},
		{"far outside", Percent(-12), "<-999 %"},
		{"a plain path needs no quotes", quote("scenarios/ä_b-1.yaml"), "scenarios/ä_b-1.yaml"},
		{"a space does", quote("a b"), "'a b'"},
		{"a quote within quotes", quote("it's"), `'it'\''s'`},
		{"what a shell would run", quote("$(x)"), "'$(x)'"},
		{"nothing is a word too", quote(""), "''"},
		{"a wide character takes two columns", truncate("二段式ロケット", 7), "二段..."},
		{"a combining mark takes none", padRight("e\u0301", 3), "e\u0301  "},
		{"too narrow for dots", truncate("abcdef", 3), "abc"},
		{"escapes are dropped, white space becomes space", Plain("a\x1b[31m\tb\u202e\u200bc\xff"), "a[31m bc?"},
		{"a text is cut after a comma", truncateAtComma("never: a.drogue, while x, y", 20), "never: a.drogue, ..."},
		{"one column less does not hold it", truncateAtComma("never: a.drogue, while x, y", 19), "never: a.drogue,..."},
		{"without a comma anywhere", truncateAtComma("it has no comma", 10), "it has ..."},
		{"no room", truncateAtComma("a, b, c", -3), ""},
		{"to the left", padLeft("+1 s", 6), "  +1 s"},
		{"a number stays with its unit and uncertainty", strings.Join(wrap("off at 9.875 s +- 2.9 ms, dark", 20), "|"), "off at|9.875 s +- 2.9 ms,|dark"},
		{"a long word is broken", strings.Join(wrap("aaaaaaaaaaaaa b", 10), "|"), "aaaaaaaaaa|aaa b"},
	} {
		assert.Equal(t, c.want, c.got, c.reason)
	}
}
