package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/run"
	"drystage/sim"
)

// known builds a program whose counts are known (firmware-contract's TestCoverageOfKnownBranches holds each), and gives
// the address of its chip, and a scenario that is over soon.
func known(t *testing.T) (address, short string) {
	if runtime.GOOS != "linux" || raceOn {
		t.Skip("the emulator is for Linux, and not raced")
	}
	dir := t.TempDir()
	gcc, err := exec.LookPath("avr-gcc")
	if err != nil && os.Getenv("DRYSTAGE_TOOLS") != "all" {
		t.Skip("no avr-gcc on this machine; make tools installs it")
	}
	require.NoError(t, err)
	for _, x := range [][]string{
		{gcc, "-mmcu=atmega2560", "-gdwarf-4", "-o", dir + "/known.elf", "test/branches.S"},
		{"make", "OUT=" + dir, dir + "/bridge"},
	} {
		c := exec.Command(x[0], x[1:]...)
		c.Dir = filepath.Join(root, "firmware-contract")
		said, err := c.CombinedOutput()
		require.NoError(t, err, "%s", said)
	}
	nominal, err := filepath.Abs(filepath.Join(root, "scenarios/nominal.yaml"))
	require.NoError(t, err)
	relative, err := filepath.Rel(dir, nominal)
	require.NoError(t, err)
	short = filepath.Join(dir, "short.yaml")
	require.NoError(t, os.WriteFile(short, []byte("drystage: scenario\nlike: "+filepath.ToSlash(relative)+"\ntitle: short\nuntil: launch - 2.9 s\nexpect:\n  - {never: sustainer.ignite}\n"), 0o644))
	wiring, err := filepath.Abs(filepath.Join(root, "firmware-contract/unaware/wiring.yaml"))
	require.NoError(t, err)
	return "avr:" + dir + "/known.elf?wiring=" + wiring, short
}

// TestKnownFirmware flies a program of which all is known, on an emulated chip.
func TestKnownFirmware(t *testing.T) {
	address, short := known(t)
	t.Run("coverage", func(t *testing.T) { coverageOfKnown(t, address, short) })
	t.Run("mutants", func(t *testing.T) { mutantsOfKnown(t, address, short) })
}

// bench --firmware-coverage writes LCOV of each scenario and of all, and a page, and says what it found.
func coverageOfKnown(t *testing.T, address, short string) {
	dir := filepath.Join(t.TempDir(), "cover")
	code, out, errs := command(t, "bench", "-q", short, "--board", "sustainer="+address, "--answer-limit", "1m", "--timeout", "1m", "--firmware-coverage", dir)
	require.Equal(t, passed, code, out+errs)
	require.Regexp(t, `known\.elf, executed in 1 flight`, out)
	require.Regexp(t, `branches\.S +27 of 33 \(81\.8 %\) +14 of 20 \(70\.0 %\)`, out)
	all, err := os.ReadFile(filepath.Join(dir, "firmware.info"))
	require.NoError(t, err)
	one, err := os.ReadFile(filepath.Join(dir, "scenarios/short.info"))
	require.NoError(t, err)
	require.Contains(t, string(one), "TN:short\n")
	require.Contains(t, string(one), "BRF:20\nBRH:14\n")
	require.Equal(t, string(all)[len("TN:suite"):], string(one)[len("TN:short"):], "there is one flight")
	page, err := os.ReadFile(filepath.Join(dir, "index.html"))
	require.NoError(t, err)
	require.Contains(t, string(page), "always jumped: branch at 0x")
	left, err := filepath.Glob(filepath.Join(dir, "*"))
	require.NoError(t, err)
	require.Len(t, left, 3, "%v", left)
}

func TestFirmwareCoverageRefuses(t *testing.T) {
	for _, c := range []struct {
		args []string
		says string
	}{
		{nil, "no board here is an emulated chip"},
		{[]string{"--repeat", "2"}, "leave out --queue, --repeat"},
		{[]string{"--board", "avr:no.elf?wiring=no.yaml"}, "no.elf"},
	} {
		code, _, errs := command(t, append([]string{"bench", "-q", "scenarios/nominal.yaml", "--firmware-coverage", t.TempDir()}, c.args...)...)
		require.Equal(t, misused, code)
		require.Contains(t, errs, c.says)
	}
}

// mutants turns all branches of a program around, and says which of them a scenario notices: the program switches an
// output on if its count is wrong.
func mutantsOfKnown(t *testing.T, address, short string) {
	code, out, errs := command(t, "mutants", "-q", short, "--board", "sustainer="+address, "--answer-limit", "1m", "--timeout", "1m", "--functions", ".*", "--sample", "0")
	require.Equal(t, failed, code, out+errs)
	require.Contains(t, out, "9 of 9 branches in .*, drawn by seed 1; 8 flights\nkilled 2 of 9: 22.2 %\n")
	require.Regexp(t, `branches\.S:16 main, branch at 0x\w+ +killed +short +sustainer\.ignite never fires\n`, out, "brne loop")
	require.Regexp(t, `branches\.S:20 main, branch at 0x\w+ +killed +short +sustainer\.ignite never fires\n`, out, "breq over")
	require.Regexp(t, `LIVES branches\.S:22 main, branch at 0x\w+: no scenario executes it\n  repeat: add &flip=0x`, out, "brcs never")
}

func TestMutantsRefuses(t *testing.T) {
	for _, c := range []struct {
		args []string
		says string
	}{
		{[]string{"--functions", ".*"}, "no board here is an emulated chip"},
		{[]string{"--functions", "("}, "--functions: error parsing regexp"},
		{[]string{"--functions", "x", "--sample", "-1"}, "wanted at least 0"},
		{[]string{"--functions", "x", "--board", "avr:no.elf?wiring=no.yaml&flip=up"}, `flip "up" isn't the address of a branch`},
	} {
		code, _, errs := command(t, append([]string{"mutants", "-q", "scenarios/nominal.yaml"}, c.args...)...)
		require.Equal(t, misused, code)
		require.Contains(t, errs, c.says)
	}
}

// A flight that passes has failed at no moment before its end: what has not happened yet is no failure.
func TestNoFailureBeforeItsTime(t *testing.T) {
	for _, p := range plansOf(t, "scenarios/nominal.yaml", "scenarios/staging-tilt.yaml", "scenarios/power-cut-coast.yaml") {
		looked := 0
		b, err := run.Open(t.Context(), run.Options{Watch: func(rec *harness.Record, src sim.Source) sim.Source {
			return &untilFailed{Source: src, rec: rec, fails: func(v *harness.Verdict) bool {
				looked++
				for _, f := range v.Findings {
					if f.Answer == harness.Fail {
						t.Errorf("%s at %s: %s: %s", p.Name, rec.Times[len(rec.Times)-1], f.Text, f.Reason)
					}
				}
				return false
			}}
		}}, []harness.Plan{p})
		require.NoError(t, err)
		require.NoError(t, b.Fly(t.Context(), []harness.Plan{p}, func(_ int, rec *harness.Record) error { return nil }))
		require.NoError(t, b.Close())
		require.Greater(t, looked, 20)
	}
}
