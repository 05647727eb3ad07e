package main

import (
	"errors"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board/link"
	"drystage/harness/files/scenario"
	"drystage/harness/files/suite"
	"drystage/harness/rig"
	"drystage/harness/run"
	"drystage/scenarios"
)

// enemyFiles are the files of a folder that somebody sent, one of which at a time is an enemy's.
var enemyFiles = []string{"scenarios/nominal.yaml", "scenarios/vehicles/dunlin.yaml", "scenarios/boards/sustainer.yaml", "scenarios/rigs/simulated.yaml"}

// hostile are values and lines that want something of this machine.
var hostile = []string{
	"../../victim", "../victim.sh", "/etc/passwd", "~/.bashrc", "victim", "pins", "simulated-pins/../../victim", `"..\\..\\victim"`,
	"exec:touch victim", "tcp:127.0.0.1:9", "unix:victim", "serial:/dev/ttyS0", "mock:ignores-tilt", "$(touch victim)", "`touch victim`", "| touch victim",
	`"x\ntouch victim"`, "file:///victim", "/dev/tty", "/proc/self/mem", "-", `""`, "{}", "[]", "{port: tcp:127.0.0.1:9}", "1e999", "host", "simulated",
}

var hostileLines = []string{
	"state: profile", "state: ../victim.sh", "state: victim.sh", "rig: host", "rig: simulated", "board: exec:touch victim", "log: {file: ../../victim}",
	"log: {file: /dev/zero, mapping: ../victim.sh}", "like: ../../victim", "like: ../rigs/simulated.yaml", `nmea: {port: "tcp:127.0.0.1:9"}`, "nmea: {}",
	"settings: {exec: 1}", "out: victim", "guard: touch victim", "measured: ../victim.sh", "vehicle: ../../victim",
}

// enemyHome is a home with something to lose, and in it the folder where the files lie, which becomes the
// working one. It gives the files as they came.
func enemyHome(t testing.TB) (home string, clean map[string]string) {
	home = t.TempDir()
	for _, name := range []string{"victim", "victim.sh", ".bashrc", "work/victim", "work/victim.sh", "work/scenarios/victim.sh"} {
		require.NoError(t, os.MkdirAll(filepath.Dir(filepath.Join(home, name)), 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(home, name), []byte("alias ls=ls\n"), 0o644))
	}
	require.NoError(t, os.CopyFS(filepath.Join(home, "work/scenarios"), scenarios.Files))
	t.Chdir(filepath.Join(home, "work"))
	others, err := filepath.Glob("scenarios/*.yaml")
	require.NoError(t, err)
	for _, name := range others {
		if name != enemyFiles[0] {
			require.NoError(t, os.Remove(name))
		}
	}
	clean = map[string]string{}
	for _, name := range enemyFiles {
		b, err := os.ReadFile(name)
		require.NoError(t, err)
		clean[name] = string(b)
	}
	clean[enemyFiles[3]] += "state: profile\n"
	require.NoError(t, os.WriteFile(enemyFiles[3], []byte(clean[enemyFiles[3]]), 0o644))
	return home, clean
}

// content gives every file below a folder, but for the files of simulated pins that a rig may have.
func content(t testing.TB, home string) map[string]string {
	all := map[string]string{}
	require.NoError(t, filepath.WalkDir(home, func(name string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		b, err := os.ReadFile(name)
		if filepath.Base(filepath.Dir(name)) == "simulated-pins" && strings.HasSuffix(name, ".pins") && strings.HasPrefix(string(b), "drystage simulated pins\n") {
			return err
		}
		all[name] = string(b)
		return err
	}))
	return all
}

var errDialled = errors.New("somebody was called")

// withstand reads the files and opens all that they lead to, as commands do that name no board, no rig's consent
// and no output. Nothing may have been called or started, and nothing written.
func withstand(t testing.TB, aRig bool) (opened bool) {
	var called []string
	d := &console{ctx: t.Context(), in: strings.NewReader(""), out: io.Discard, err: io.Discard, dial: func(address string, _ int) (link.Link, error) {
		called = append(called, address)
		return nil, errDialled
	}}
	if aRig {
		opened = mounted(t, d)
	} else {
		opened = seated(t, d)
	}
	require.Empty(t, called)
	return opened
}

// seated loads the scenario and opens its boards, if it is one.
func seated(t testing.TB, d *console) bool {
	loaded, err := suite.Load([]string{enemyFiles[0]}, d.err)
	if err == nil {
		b, err := run.Open(d.ctx, run.Options{Dial: d.dial}, loaded.Plans)
		require.NoError(t, err)
		boards := 0
		for _, x := range loaded.Plans[0].Boards {
			l, err := b.Link(d.ctx, x)
			require.NoError(t, err)
			require.NoError(t, l.Close())
			boards++
		}
		require.NotZero(t, boards)
		require.NoError(t, b.Close())
	}
	return err == nil
}

// mounted loads the rig, which opens nothing real before somebody has confirmed, and opens a simulated one.
func mounted(t testing.TB, d *console) bool {
	spec, problems := scenario.LoadRig(scenario.Disk{}, enemyFiles[3])
	if len(problems) == 0 {
		real := !spec.Simulated
		for _, b := range spec.Boards {
			real = real || b.Address != "" && !strings.HasPrefix(b.Address, "mock")
		}
		if real { // nobody has confirmed anything
			_, err := run.Open(d.ctx, run.Options{Rig: enemyFiles[3], Dial: d.dial}, nil)
			require.ErrorContains(t, err, "refused")
		}
		if spec.Simulated { // without the pins that are only watched, whose closing takes its time
			spec.Boards = nil
			spec.Drives = slices.DeleteFunc(spec.Drives, func(x harness.Drive) bool { return x.Does == harness.DriveLoopback })
			if r, err := rig.Open(d.ctx, spec, rig.Options{}); err == nil {
				require.NoError(t, r.Close())
			}
		}
	}
	return len(problems) == 0
}

// attack has one file replaced by an enemy's, and fails if that did harm.
func attack(t testing.TB, home string, clean map[string]string, which int, text string) (opened bool) {
	name := enemyFiles[which]
	before := content(t, home)
	require.NoError(t, os.WriteFile(name, []byte(text), 0o644))
	opened = withstand(t, which == 3)
	require.NoError(t, os.WriteFile(name, []byte(clean[name]), 0o644))
	after := content(t, home)
	for file, was := range before {
		if after[file] != was {
			t.Fatalf("%s was changed by %s:\n%s", file, name, text)
		}
	}
	for file := range after {
		if _, was := before[file]; !was {
			t.Fatalf("%s was made by %s:\n%s", file, name, text)
		}
	}
	return opened
}

// mutant changes a text in one to three places.
func mutant(r *rand.Rand, text string) string {
	lines := strings.Split(text, "\n")
	for range 1 + r.IntN(3) {
		i := r.IntN(len(lines))
		indent := lines[i][:len(lines[i])-len(strings.TrimLeft(lines[i], " "))]
		switch r.IntN(5) {
		case 0: // another line
			lines = append(lines[:i:i], append([]string{indent + hostileLines[r.IntN(len(hostileLines))]}, lines[i:]...)...)
		case 1, 2: // another value, of a line or within its braces
			parts := strings.Split(lines[i], ": ")
			if k := r.IntN(len(parts)); k > 0 {
				_, rest, more := strings.Cut(parts[k], ",")
				if parts[k] = hostile[r.IntN(len(hostile))]; more {
					parts[k] += "," + rest
				}
			}
			lines[i] = strings.Join(parts, ": ")
		case 3: // a line at the end, where it is a key of the file itself
			lines = append(lines, hostileLines[r.IntN(len(hostileLines))])
		case 4: // a byte
			if b := []byte(lines[i]); len(b) > 0 {
				b[r.IntN(len(b))] ^= 1 << r.IntN(8)
				lines[i] = string(b)
			}
		}
	}
	return strings.Join(lines, "\n")
}

// Files may come from anybody: whatever they say, nothing is written but simulated pins in their folder, and
// nothing is opened or started that the command line did not name.
func TestEnemyFilesDoNoHarm(t *testing.T) {
	slow(t)
	home, clean := enemyHome(t)
	r, opened := rand.New(rand.NewPCG(1, 2)), map[string]int{}
	for i := range 2000 {
		which := i % len(enemyFiles)
		if attack(t, home, clean, which, mutant(r, clean[enemyFiles[which]])) {
			opened[enemyFiles[which]]++
		}
	}
	t.Log("of 500 each could be opened", opened)
	for _, name := range enemyFiles {
		require.Greater(t, opened[name], 20, "%s: mutants that nothing opens prove nothing", name)
	}
}

func FuzzEnemyFiles(f *testing.F) {
	home, clean := enemyHome(f)
	for i, name := range enemyFiles {
		f.Add(uint8(i), clean[name])
		for _, line := range hostileLines {
			f.Add(uint8(i), clean[name]+line+"\n")
		}
	}
	for _, x := range hostile {
		f.Add(uint8(0), strings.Replace(clean[enemyFiles[0]], "vehicles/dunlin.yaml", x, 1))
		f.Add(uint8(2), clean[enemyFiles[2]]+"nmea: "+x+"\n")
		f.Add(uint8(3), strings.Replace(clean[enemyFiles[3]], "state: profile", "state: "+x, 1))
		f.Add(uint8(3), strings.Replace(clean[enemyFiles[3]], "GPIO17", x, 1))
	}
	f.Fuzz(func(t *testing.T, which uint8, text string) {
		attack(t, home, clean, int(which)%len(enemyFiles), text)
	})
}
