package source

import (
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/judge/mutants"
)

// changes gives kind, original and mutant of each, a line each.
func changes(s *Schemata) (out []string) {
	for _, m := range s.Mutants {
		out = append(out, string(m.Kind)+": "+m.Was+" -> "+m.Is)
	}
	return out
}

func TestMutantsOfGo(t *testing.T) {
	for _, row := range []struct {
		body   string
		want   []string
		reason string
	}{
		{"if c.h > top && c.on { c.n++ }", []string{
			"condition negated: c.h > top && c.on -> !(c.h > top && c.on)",
			"condition negated: c.h > top -> !(c.h > top)", "check left out: c.h > top -> true", "comparison shifted: c.h > top -> c.h >= top",
			"constant halved: top -> (top) * 0.5", "constant doubled: top -> (top) * 2",
			"condition negated: c.on -> !(c.on)", "check left out: c.on -> true",
			"statement dropped: c.n++ -> ", "sign turned: c.n++ -> c.n--", "counter narrowed: c.n++ -> c.n = int(int8(c.n+1))",
		}, "a condition, its parts, what it guards, and a count"},
		{"if c.bug == late { c.n = 7 }", nil, "what only a known defect does is no decision of the board"},
		{"if c.on || c.bug == late { c.log(\"x\") }", []string{
			"condition negated: c.on || c.bug == late -> !(c.on || c.bug == late)", "condition negated: c.on -> !(c.on)", "check left out: c.on -> false",
		}, "a part beside a defect is mutated, texts for people are not"},
		{"c.h += a.x - a.y*2", []string{
			"statement dropped: c.h += a.x - a.y*2 -> ", "sign turned: c.h += a.x - a.y*2 -> c.h-=a.x - a.y*2",
			"counter narrowed: c.h += a.x - a.y*2 -> c.h = float64(int16(int64((c.h+(a.x - a.y*2))*100))) / 100",
			"sign turned: a.x - a.y*2 -> a.x + (a.y*2)", "axis swapped: a.x -> a.y", "axis swapped: a.y -> a.z",
			"constant halved: 2 -> (2) * 0.5", "constant doubled: 2 -> (2) * 2",
		}, "a sum of two axes"},
		{"c.h, c.n = 3, 0", []string{
			"statement dropped: c.h, c.n = 3, 0 -> c.n = 0", "statement dropped: c.h, c.n = 3, 0 -> c.h = 3", "constant halved: 3 -> (3) * 0.5", "constant doubled: 3 -> (3) * 2",
		}, "each part of an assignment to several"},
		{"c.at = c.now", []string{"statement dropped: c.at = c.now -> ", "counter narrowed: c.at = c.now -> c.at = (c.now) % 65536000"}, "a time"},
	} {
		source := `package p

type bug int

const (
	none bug = iota
	late
)

const top = 30

type vector struct{ x, y, z float64 }

type computer struct {
	h       float64
	n       int
	on      bool
	at, now int64
	bug     bug
}

func (c *computer) log(string) {}

func (c *computer) run(a vector) {
	` + row.body + `
}
`
		s, err := OfGo("p", []Source{{"p.go", source}}, GoScope{Files: []string{"p.go"}, Tells: []string{"log"}, Switch: "bug"}, func(string) (io.ReadCloser, error) { return nil, os.ErrNotExist })
		require.NoError(t, err, row.reason)
		assert.Equal(t, row.want, changes(s), row.reason)
		dir := t.TempDir()
		for _, f := range s.Sources {
			require.NoError(t, os.WriteFile(filepath.Join(dir, f.Name), []byte(f.Text), 0o600))
		}
		require.NoError(t, os.WriteFile(filepath.Join(dir, "go.mod"), []byte("module p\n\ngo 1.26\n"), 0o600))
		build := exec.CommandContext(t.Context(), "go", "build", ".")
		build.Dir = dir
		said, err := build.CombinedOutput()
		require.NoError(t, err, "%s: %s\n%s", row.reason, said, s.Sources[0].Text)
	}
}

func TestMutantsOfC(t *testing.T) {
	clang, err := exec.LookPath("clang")
	if err != nil && os.Getenv("DRYSTAGE_TOOLS") == "" {
		t.Skip("no clang; make tools installs it")
	}
	require.NoError(t, err)
	for _, row := range []struct {
		body   string
		want   []string
		reason string
	}{
		{"if (c->h > TOP && c->on) { c->n++; }", []string{
			"condition negated: c->h > TOP && c->on -> !(c->h > TOP && c->on)",
			"condition negated: c->h > TOP -> !(c->h > TOP)", "check left out: c->h > TOP -> 1", "comparison shifted: c->h > TOP -> c->h >= TOP",
			"constant halved: TOP -> TOP / 2", "constant doubled: TOP -> TOP * 2",
			"condition negated: c->on -> !(c->on)", "check left out: c->on -> 1",
			"statement dropped: c->n++; -> ", "sign turned: c->n++; -> c->n--", "counter narrowed: c->n++; -> c->n = (int32_t)(int8_t)(c->n + 1)",
		}, "a condition, its parts, what it guards, and a count"},
		{"note(\"x\");", nil, "texts for people are no decision"},
		{"c->h = v.x - v.y;", []string{
			"statement dropped: c->h = v.x - v.y; -> ", "counter narrowed: c->h = v.x - v.y; -> c->h = (double)(int16_t)(int64_t)((v.x - v.y) * 100.0) / 100.0",
			"sign turned: v.x - v.y -> v.x + (v.y)", "axis swapped: v.x -> v.y", "axis swapped: v.y -> v.z",
		}, "a difference of two axes"},
		{"const vector *w = &v; c->h = w->x - w->y;", []string{
			"statement dropped: c->h = w->x - w->y; -> ", "counter narrowed: c->h = w->x - w->y; -> c->h = (double)(int16_t)(int64_t)((w->x - w->y) * 100.0) / 100.0",
			"sign turned: w->x - w->y -> w->x + (w->y)", "axis swapped: w->x -> w->y", "axis swapped: w->y -> w->z",
		}, "what is read through a pointer to a constant"},
		{"if (!c->on) { return; }", []string{"condition negated: !c->on -> c->on", "check left out: !c->on -> 0"}, "a guard"},
	} {
		source := `#include <stdint.h>
#define TOP 30.0
typedef struct vector { double x, y, z; } vector;
typedef struct computer { double h; int32_t n; int on; } computer;
void note(const char *text);
void run(computer *c, vector v);
void run(computer *c, vector v)
{
    (void)v;
    ` + row.body + `
}
`
		dir := t.TempDir()
		name := filepath.Join(dir, "p.c")
		require.NoError(t, os.WriteFile(name, []byte(source), 0o600))
		s, err := OfC([]Source{{name, source}}, CScope{Tells: []string{"note"}, Own: "WIRE_"}, func(name string) ([]byte, error) {
			return exec.CommandContext(t.Context(), clang, "-fsyntax-only", "-Xclang", "-ast-dump=json", name).Output()
		})
		require.NoError(t, err, row.reason)
		assert.Equal(t, row.want, changes(s), row.reason)
		require.NoError(t, os.WriteFile(filepath.Join(dir, "m.c"), []byte(s.CSwitch()+s.Sources[0].Text), 0o600))
		said, err := exec.CommandContext(t.Context(), clang, "-fsyntax-only", "-Wno-everything", filepath.Join(dir, "m.c")).CombinedOutput()
		require.NoError(t, err, "%s: %s\n%s", row.reason, said, s.Sources[0].Text)
	}
}

// differing are the programs for TestMutantsThatDiffer; both notice the same.
const (
	differing = `package main

type counter struct {
	n int
	h float64
}

func (c *counter) count() bool {
	c.n++
	return true
}

func (c *counter) run(h float64) {
	c.h = h
	if h > 2 && c.count() {
		c.h = 5
	}
}
`
	differingMain = `package main

import "fmt"

func main() {
	for _, h := range []float64{0, 1, 2, 3, 400} {
		SelectMutant(-1)
		new(counter).run(h)
		fmt.Println(NotedMutants())
	}
}
`
	differingC = `#include <stdint.h>
#include <stdio.h>
typedef struct counter { int32_t n; double h; } counter;
static int count(counter *c)
{
    c->n++;
    return 1;
}
static void run(counter *c, double h)
{
    c->h = h;
    if (h > 2.0 && count(c)) {
        c->h = 5.0;
    }
}
int mutant_on = -1;
unsigned char mutant_noted[MUTANTS + 1];
int main(void)
{
    static const double all[] = {0.0, 1.0, 2.0, 3.0, 400.0};
    int i, n;
    for (i = 0; i < 5; i++) {
        counter c = {0, 0.0};
        for (n = 0; n <= MUTANTS; n++) { mutant_noted[n] = 0; }
        run(&c, all[i]);
        printf("[");
        for (n = 1; n <= MUTANTS; n++) { if (mutant_noted[n]) { printf("%d ", n); } }
        printf("]\n");
    }
    return 0;
}
`
)

// TestMutantsThatDiffer runs the original of a program and wants noted which mutants would have had another value, or done
// something else: of a place whose value comes of a change all.
func TestMutantsThatDiffer(t *testing.T) {
	dir := t.TempDir()
	s, err := OfGo("p", []Source{{"p.go", differing}}, GoScope{Files: []string{"p.go"}}, func(string) (io.ReadCloser, error) { return nil, os.ErrNotExist })
	require.NoError(t, err)
	for _, f := range append(s.Sources, Source{"main.go", differingMain}, Source{"go.mod", "module p\n\ngo 1.26\n"}) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, f.Name), []byte(f.Text), 0o600))
	}
	run := exec.CommandContext(t.Context(), "go", "run", ".")
	run.Dir = dir
	said, err := run.CombinedOutput()
	require.NoError(t, err, string(said))
	checkDiffering(t, s, string(said))

	clang, err := exec.LookPath("clang")
	if err != nil && os.Getenv("DRYSTAGE_TOOLS") == "" {
		t.Skip("no clang; make tools installs it")
	}
	require.NoError(t, err)
	name := filepath.Join(dir, "p.c")
	require.NoError(t, os.WriteFile(name, []byte(differingC), 0o600))
	s, err = OfC([]Source{{name, differingC}}, CScope{Leave: []string{"main"}}, func(name string) ([]byte, error) {
		return exec.CommandContext(t.Context(), clang, "-DMUTANTS=99", "-fsyntax-only", "-Xclang", "-ast-dump=json", name).Output()
	})
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(name, []byte(s.CSwitch()+s.Sources[0].Text), 0o600))
	said, err = exec.CommandContext(t.Context(), clang, "-Wno-everything", "-o", filepath.Join(dir, "c"), name).CombinedOutput()
	require.NoError(t, err, string(said))
	said, err = exec.CommandContext(t.Context(), filepath.Join(dir, "c")).Output()
	require.NoError(t, err)
	checkDiffering(t, s, string(said))
}

// checkDiffering takes a line of numbers for each of the heights.
func checkDiffering(t *testing.T, s *Schemata, said string) {
	t.Helper()
	lines := strings.Split(strings.TrimSpace(said), "\n")
	require.Len(t, lines, 5, said)
	at := func(line int, kind mutants.Kind, was string) bool {
		for _, m := range s.Mutants {
			if m.Kind == kind && strings.ReplaceAll(strings.Trim(m.Was, ";"), "->", ".") == was {
				return slices.Contains(strings.Fields(strings.Trim(lines[line], "[]")), strconv.Itoa(m.Number))
			}
		}
		t.Fatalf("no mutant %s of %s among %v", kind, was, changes(s))
		return false
	}
	beyond := s.Mutants[slices.IndexFunc(s.Mutants, func(m mutants.Mutant) bool { return m.Kind == mutants.Shifted })].Was
	for line, want := range []struct{ dropped, narrowed, leftOut, shifted, whole, dropCount, narrowCount bool }{
		{whole: true, leftOut: true}, // 0 is what was there before
		{dropped: true, whole: true, leftOut: true},
		{dropped: true, whole: true, leftOut: true, shifted: true},
		{dropped: true, whole: true, dropCount: true},
		{dropped: true, whole: true, dropCount: true, narrowed: true}, // 400 is too large for 16 bits of hundredths
	} {
		assert.Equal(t, want.dropped, at(line, mutants.Dropped, "c.h = h"), "line %d", line)
		assert.Equal(t, want.narrowed, at(line, mutants.Narrowed, "c.h = h"), "line %d", line)
		assert.Equal(t, want.leftOut, at(line, mutants.LeftOut, beyond), "line %d", line)
		assert.Equal(t, want.shifted, at(line, mutants.Shifted, beyond), "line %d", line)
		assert.Equal(t, want.whole, at(line, mutants.Negated, s.Mutants[slices.IndexFunc(s.Mutants, func(m mutants.Mutant) bool { return strings.Contains(m.Was, "&&") })].Was), "line %d", line)
		assert.Equal(t, want.dropCount, at(line, mutants.Dropped, "c.n++"), "line %d", line)
		assert.Equal(t, want.narrowCount, at(line, mutants.Narrowed, "c.n++"), "line %d: 1 fits into 8 bits", line)
	}
}
