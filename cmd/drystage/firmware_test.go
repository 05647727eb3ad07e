package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"
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
	require.NoError(t, os.WriteFile(short, []byte("drystage: scenario\nlike: "+filepath.ToSlash(relative)+"\ntitle: short\nuntil: launch - 1 s\nexpect:\n  - {never: sustainer.ignite}\n"), 0o644))
	wiring, err := filepath.Abs(filepath.Join(root, "firmware-contract/unaware/wiring.yaml"))
	require.NoError(t, err)
	return "avr:" + dir + "/known.elf?wiring=" + wiring, short
}

// bench --firmware-coverage writes LCOV of each scenario and of all, and a page, and says what it found.
func TestFirmwareCoverage(t *testing.T) {
	address, short := known(t)
	dir := filepath.Join(t.TempDir(), "cover")
	code, out, errs := command(t, "bench", "-q", short, "--board", "sustainer="+address, "--answer-limit", "1m", "--timeout", "1m", "--firmware-coverage", dir)
	require.Equal(t, passed, code, out+errs)
	require.Regexp(t, `known\.elf, executed in 1 flight`, out)
	require.Regexp(t, `branches\.S +26 of 32 \(81\.2 %\) +14 of 20 \(70\.0 %\)`, out)
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
