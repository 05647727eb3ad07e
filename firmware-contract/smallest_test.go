//go:build linux

package firmwarecontract

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/link"
	"drystage/harness/judge/verdict"
	"drystage/sim"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// codeLines counts the lines of C with code on them.
func codeLines(text string) (n int) {
	text = regexp.MustCompile(`(?s)/\*.*?\*/`).ReplaceAllString(text, "")
	for l := range strings.Lines(text) {
		if strings.TrimSpace(l) != "" {
			n++
		}
	}
	return n
}

// TestLinesOfANewcomer counts what README says that a user writes.
func TestLinesOfANewcomer(t *testing.T) {
	readme, err := os.ReadFile("README.md")
	require.NoError(t, err)
	m := regexp.MustCompile("`ports/avr/smallest.c`[^.]*?(\\d+) lines of code").FindSubmatch(readme)
	require.NotNil(t, m, "README says how many lines a newcomer writes")
	said, _ := strconv.Atoi(string(m[1]))
	smallest, err := os.ReadFile("ports/avr/smallest.c")
	require.NoError(t, err)
	n := codeLines(string(smallest))
	assert.Equal(t, said, n, "README's number")
	assert.LessOrEqual(t, n, 60)
	assert.Greater(t, n, 30)
}

// TestSmallestFlies flies the smallest board, on an emulated ATmega328P, to some seconds beyond apogee.
func TestSmallestFlies(t *testing.T) {
	if raceOn {
		t.Skip("emulators are not raced; make suite flies them without")
	}
	p := ports[1]
	dir := p.build(t)
	plan := planOf(t, "testdata/smallest.yaml")
	plan.Setup.Until = sim.Anchor{Event: sim.EventApogee, Offset: 4 * sim.Second} // the rest is a long way down
	rec := fly(t, plan, func(string) (link.Link, error) {
		return link.Open(t.Context(), "exec:"+dir+"/bridge --mcu=atmega328p "+dir+"/smallest-avr.elf", link.Options{})
	})
	v := verdict.Judge(rec)
	require.NotEmpty(t, v.Findings)
	for _, f := range v.Findings {
		assert.Equal(t, harness.Pass, f.Answer, "%s: %s", f.Text, f.Reason)
	}
}

// TestSilentCable leaves the smallest board alone while its output is on. No clock of the host's ends the pulse,
// but the pin goes dark, between 5 and 6 s later by the chip's own clock.
func TestSilentCable(t *testing.T) {
	if raceOn {
		t.Skip("emulators are not raced; make suite flies them without")
	}
	t.Parallel() // it waits
	dir := ports[1].build(t)
	pins := filepath.Join(t.TempDir(), "pins")
	l, err := link.Open(t.Context(), "exec:"+dir+"/bridge --mcu=atmega328p --pins="+pins+" "+dir+"/smallest-avr.elf", link.Options{})
	require.NoError(t, err)
	bay := sim.Bay{Sensors: sim.Sensors{Baro: sim.Barometer{Rate: 50}}}
	c := board.NewClient(l, harness.Board{Role: "sustainer"}, &bay, board.Options{Timeout: 10 * time.Second})
	defer c.Close()
	var r harness.Reply
	for k := range 10 {
		r.Reset()
		f := sim.Frame{Now: sim.Time(k) * 20 * sim.Millisecond, Due: true, Powered: true, Has: sim.HasBaro, Temperature: 288, Pressure: 95000 + 20*float64(k)}
		if k == 0 {
			f.Commands = sim.CommandArm
		}
		require.NoError(t, c.Exchange(t.Context(), &f, &r))
	}
	time.Sleep(1500 * time.Millisecond)            // the emulator follows the clock on the wall by now
	for _, s := range []string{"-STOP", "-CONT"} { // as a busy machine does: it lags, and time goes on all the same
		require.NoError(t, exec.Command("pkill", s, "-f", dir+"/bridge").Run())
		time.Sleep(400 * time.Millisecond)
	}
	var edges []string
	require.Eventually(t, func() bool {
		text, err := os.ReadFile(pins)
		edges = strings.Split(strings.TrimSpace(string(text)), "\n")
		return err == nil && len(edges) >= 2
	}, 5*time.Minute, 50*time.Millisecond) // beside other work an emulator runs far below real time
	require.Len(t, edges, 2)
	assert.True(t, strings.HasSuffix(edges[0], " B0 1"), edges[0])
	assert.True(t, strings.HasSuffix(edges[1], " B0 0"), edges[1])
	since, err := strconv.Atoi(strings.Fields(edges[1])[1]) // cycles since the last byte
	require.NoError(t, err)
	assert.InDelta(t, 5.5, float64(since)/16e6, 0.5, "seconds")
}
