//go:build linux

package firmwarecontract

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/judge/verdict"
	"drystage/sim"
)

// driverBugs says for each firmware with a mistake in a driver which shipped scenario shows it, with which fault of a bus,
// until when that has to be flown, which expectation fails, and the words of its reason.
var driverBugs = []struct {
	name     string // of the file in drivers/
	scenario string
	fault    string // in the wiring file; empty: none
	until    string // an event; 4 s after it all is seen; empty: the whole flight
	fails    string // how the expectation begins
	named    string
	few      bool // make check flies it, too
}{
	{"wrong-axis", "tip-off-pitched", "", "booster.burnout", "sustainer.ignite never fires", "where it must be dark", false},
	{"wrong-sign", "nominal", "", "booster.burnout", "sustainer.ignite fires from", "never switched on", false},
	{"wrong-range", "tilt-limit-inside", "", "booster.burnout", "sustainer.ignite fires", "never switched on", false},
	{"byte-order", "nominal", "", "booster.burnout", "sustainer.ignite fires from", "never switched on", false},
	{"calibration-word", "nominal", "", "", "sustainer.main fires from", "after the window closes", false},
	{"no-temperature", "../firmware-contract/testdata/cold", "", "", "sustainer.main fires from", "before the window opens", false},
	{"read-too-early", "nominal", "", "booster.burnout", "sustainer.ignite fires from", "never switched on", false},
	{"fifo-by-a-byte", "nominal", "", "booster.burnout", "sustainer.ignite fires from", "never switched on", false},
	{"bus-error-ignored", "nominal", "{part: barometer, fault: silent, from: 0 s, to: 1 s}", "booster.burnout", "sustainer.ignite fires from", "never switched on", true},
	{"blocking-wait", "nominal", "{part: barometer, fault: stuck, from: 19 s}", sim.EventApogee, "sustainer.drogue fires from", "never switched on", false},
	{"data-ready-missed", "nominal", "", "booster.burnout", "sustainer.ignite fires from", "never switched on", false},
	{"adc-reference", "nominal", "", "booster.burnout", "sustainer.ignite fires from", "never switched on", false},
}

// wiringWith gives the unaware firmware's wiring file with a fault of a bus.
func wiringWith(t *testing.T, fault string) string {
	text, err := os.ReadFile("unaware/wiring.yaml")
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), "wiring.yaml")
	if fault != "" {
		text = append(text, "faults:\n  - "+fault+"\n"...)
	}
	require.NoError(t, os.WriteFile(file, text, 0o600))
	return file
}

// withBug builds the unaware firmware with a diff, beside the emulator of an address, and gives the address.
func withBug(t *testing.T, address, diff string) string {
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(filepath.Join(dir, "unaware"), os.DirFS("unaware")))
	text, err := os.ReadFile(diff)
	require.NoError(t, err)
	patched(t, dir, string(text))
	sources, err := filepath.Glob(filepath.Join(dir, "unaware", "*.c"))
	require.NoError(t, err)
	args := strings.Fields("-mmcu=atmega2560 -DF_CPU=16000000UL -std=c99 -Os -gdwarf-4 -Wall -Wextra -Werror -o")
	run(t, need(t, "avr-gcc"), append(append(append(args, dir+"/unaware-avr.elf"), sources...), "-lm")...)
	bridge := filepath.Join(filepath.Dir(strings.TrimPrefix(address, "avr:")), "bridge")
	return "avr:" + dir + "/unaware-avr.elf?bridge=" + bridge + "&wiring="
}

// TestDriverBugs builds each firmware with a mistake in a driver and flies its scenario. The honest one passes there
// (make boards).
func TestDriverBugs(t *testing.T) {
	if raceOn {
		t.Skip("emulators are not raced; make suite flies them without")
	}
	all := os.Getenv("DRYSTAGE_BOARDS") == "all"
	diffs, err := filepath.Glob("drivers/*.diff")
	require.NoError(t, err)
	require.Len(t, diffs, len(driverBugs), "each has a row")
	address := chip(t, "")
	honest := map[string]bool{}
	for _, b := range driverBugs {
		if !b.few && !all {
			continue
		}
		plan := planOf(t, "../scenarios/"+b.scenario+".yaml")
		if b.until != "" {
			plan.Setup.Until = sim.Anchor{Event: b.until, Offset: 4 * sim.Second}
		}
		wiring := wiringWith(t, b.fault)
		t.Run(b.name, func(t *testing.T) {
			t.Parallel()
			v := verdict.Judge(flyChip(t, plan, withBug(t, address, "drivers/"+b.name+".diff")+wiring))
			assert.True(t, slices.ContainsFunc(v.Findings, func(f harness.Finding) bool {
				return f.Answer == harness.Fail && strings.HasPrefix(f.Text, b.fails) && strings.Contains(f.Reason, b.named)
			}), "wanted %q to fail with %q; what did not pass:\n%s", b.fails, b.named, strings.Join(failures(&v), "\n"))
		})
		key := b.scenario + b.fault + b.fails
		if honest[key] || !all && b.fault == "" {
			continue
		}
		honest[key] = true
		t.Run(b.name+" left out", func(t *testing.T) {
			t.Parallel()
			v := verdict.Judge(flyChip(t, plan, address+wiring))
			found := false
			for _, f := range v.Findings {
				if strings.HasPrefix(f.Text, b.fails) {
					found = true
					assert.Equal(t, harness.Pass, f.Answer, "%s: %s", f.Text, f.Reason)
				}
			}
			assert.True(t, found, b.fails)
		})
	}
}
