//go:build linux

package firmwarecontract

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"drystage/harness/judge/codecoverage"
	runner "drystage/harness/run"
	"drystage/sim"
)

// knownCounts reads what stands behind each instruction of branches.S: by line, the count and the ways of a branch.
func knownCounts(t *testing.T) map[int]string {
	text, err := os.ReadFile("test/branches.S")
	require.NoError(t, err)
	known := map[int]string{}
	for i, line := range strings.Split(string(text), "\n") {
		if m := regexp.MustCompile(`^ .*; (\d+(: on \d+, jumps \d+)?)$`).FindStringSubmatch(line); m != nil {
			known[i+1] = m[1]
		}
	}
	require.Greater(t, len(known), 25)
	return known
}

// TestCoverageOfKnownBranches executes a program whose counts are known by hand, and has lcov read them back.
func TestCoverageOfKnownBranches(t *testing.T) {
	dir := t.TempDir()
	gcc := need(t, "avr-gcc")
	_ = chip(t, "")
	address := "avr:" + dir + "/branches.elf?bridge=" + unawareDir.name + "/bridge&wiring=unaware/wiring.yaml"
	run(t, gcc, "-mmcu=atmega2560", "-gdwarf-4", "-o", dir+"/branches.elf", "test/branches.S")
	plan := planOf(t, "../scenarios/nominal.yaml")
	plan.Setup.Until = sim.Anchor{Event: sim.EventStart, Offset: sim.Second / 10}
	flyWith(t, plan, runner.Options{Boards: []string{"mock", "sustainer=" + address},
		Counts: dir, Timeout: time.Minute, AnswerLimit: time.Minute})
	counts, err := codecoverage.Read(filepath.Join(dir, "nominal.sustainer.counts"))
	require.NoError(t, err)
	program, err := codecoverage.Open(dir + "/branches.elf")
	require.NoError(t, err)
	files := program.Measure(&counts)
	require.Len(t, files, 1)
	have := map[int]string{}
	for _, l := range files[0].Lines {
		have[l.Number] = fmt.Sprint(l.Count)
		for _, b := range l.Branches {
			have[l.Number] += fmt.Sprintf(": on %d, jumps %d", b.Fell, b.Jumped)
		}
	}
	require.Equal(t, knownCounts(t), have)
	readBack(t, dir, files)
}

// readBack has genhtml write its page of a tracefile, and compares that with the counts known by hand.
func readBack(t *testing.T, dir string, files []codecoverage.File) {
	info, err := os.Create(filepath.Join(dir, "branches.info"))
	require.NoError(t, err)
	require.NoError(t, codecoverage.WriteLCOV(info, "known-branches", files))
	require.NoError(t, info.Close())
	said := run(t, need(t, "genhtml"), "--branch-coverage", "--legend", "-o", dir+"/html", info.Name())
	known := knownCounts(t)
	lines, ways, waysHit := 0, 0, 0
	for _, k := range known {
		n, after, branch := strings.Cut(k, ": ")
		if n != "0" {
			lines++
		}
		if branch {
			ways += 2
			waysHit += 2 - strings.Count(after, " 0")
		}
	}
	require.Regexp(t, fmt.Sprintf(`lines\.+: [\d.]+%% \(%d of %d lines\)`, lines, len(known)), said)
	require.Regexp(t, fmt.Sprintf(`branches\.+: [\d.]+%% \(%d of %d branches\)`, waysHit, ways), said)
	pages, err := filepath.Glob(dir + "/html/*/branches.S.gcov.html")
	require.NoError(t, err)
	require.Len(t, pages, 1, said)
	page, err := os.ReadFile(pages[0])
	require.NoError(t, err)
	shown := map[int]string{}
	for _, row := range strings.Split(string(page), "\n") {
		row = regexp.MustCompile(`<[^>]*>`).ReplaceAllString(row, "")
		if m := regexp.MustCompile(`^ +(\d+) .*? +(\d+) : `).FindStringSubmatch(row); m != nil {
			n, err := strconv.Atoi(m[1])
			require.NoError(t, err)
			shown[n] = m[2]
		}
	}
	for n, k := range known {
		count, _, _ := strings.Cut(k, ":")
		require.Equal(t, count, shown[n], "line %d", n)
	}
}
