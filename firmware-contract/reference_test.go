//go:build linux || darwin

package firmwarecontract

import (
	"bytes"
	"drystage/scenarios"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/harness/board/mock"
	"drystage/harness/run/benchtest"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// reference builds the reference firmware with its port to a process.
func reference(t *testing.T) string {
	sources, err := filepath.Glob("reference/*.c")
	require.NoError(t, err)
	require.NotEmpty(t, sources)
	return compile(t, need(t, "cc"), append([]string{"-ffp-contract=off", "-D_POSIX_C_SOURCE=200809L", "ports/posix/main.c",
		"ports/board.c", "src/drystage.c"}, append(sources, "-lm")...)...)
}

// tapped is a guest whose bytes are kept.
type tapped struct {
	link.Device
	in, out []byte
}

func (g *tapped) Feed(in, out []byte) []byte {
	g.in = append(g.in, in...)
	n := len(out)
	out = g.Device.Feed(in, out)
	g.out = append(g.out, out[n:]...)
	return out
}

// said gives all frames in words. What WELCOME says of name and abilities is each firmware's own.
func said(t *testing.T, out []byte) (frames []string) {
	d := contract.NewDecoder(contract.FromBoard)
	for {
		f, rest, ok := d.Next(out)
		if !ok {
			break
		}
		out = rest
		if f.Code == contract.CodeWelcome {
			f.Payload = f.Payload[4:10]
		}
		var m contract.Log
		words := contract.Text(f.Payload)
		if f.Code == contract.CodeLog {
			require.NoError(t, m.Decode(f.Payload))
			words = contract.Text(m.Text)
		}
		frames = append(frames, strings.Join([]string{f.Code.String(), string(f.Payload), words}, " "))
	}
	require.Equal(t, contract.Counts{}, d.Counts)
	require.False(t, d.Pending())
	return frames
}

// TestReferenceDecidesAsTheMock: over every flight of the shipped suite and of the reference's own scenarios, the firmware in C
// gives the mock's answers byte for byte, power cuts and all. The host's bytes of the mock's flight are fed to it in one go: as
// long as the answers are the same, so is the flight. make check flies every sixteenth scenario, make boards all.
func TestReferenceDecidesAsTheMock(t *testing.T) {
	program := reference(t)
	files, err := filepath.Glob("../scenarios/*.yaml")
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(files), 16)
	own, err := filepath.Glob("reference/scenarios/*.yaml")
	require.NoError(t, err)
	require.NotEmpty(t, own)
	files = append(files, own...)
	if raceOn { // the flights are pure Go that other rooms race; one of each kind is enough here
		files = []string{"../scenarios/nominal.yaml", "../scenarios/power-cut-coast.yaml"}
	}
	for i, file := range files {
		if i%16 != 0 && !raceOn && os.Getenv("DRYSTAGE_BOARDS") != "all" {
			continue
		}
		t.Run(filepath.Base(file), func(t *testing.T) {
			t.Parallel()
			taps := map[string]*tapped{}
			benchtest.Fly(t, file, benchtest.Options{Link: func(role string) (link.Link, error) {
				g, err := mock.New("")
				taps[role] = &tapped{Device: g}
				return link.Memory(taps[role]), err
			}})
			for role, tap := range taps {
				agree(t, program, role, tap.in, tap.out)
			}
		})
	}
}

// agree runs the firmware in C over a host's bytes and compares its answers.
func agree(t *testing.T, program, name string, in, out []byte) {
	cmd := exec.CommandContext(t.Context(), program)
	cmd.Stdin = bytes.NewReader(in)
	answer, err := cmd.Output()
	require.NoError(t, err, "%s: %s", name, lastWords(err))
	want, have := bytes.SplitAfter(out, []byte{0}), bytes.SplitAfter(answer, []byte{0}) // frame by frame
	require.Greater(t, len(want), 100)
	for i := range min(len(want), len(have)) {
		if !bytes.Equal(want[i], have[i]) {
			require.Equal(t, said(t, want[i]), said(t, have[i]), "%s: frame %d of %d", name, i, len(want))
		}
	}
	assert.Len(t, have, len(want), name)
}

func lastWords(err error) string {
	var e *exec.ExitError
	if errors.As(err, &e) {
		return string(e.Stderr)
	}
	return ""
}

// TestReferenceFlies flies it as a user would: a program on its standard input and output, in closed loop.
func TestReferenceFlies(t *testing.T) {
	program := reference(t)
	// Other tests share the machine: how long the program takes for its answers is not what is tried here.
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, scenarios.Files))
	for _, name := range []string{"sustainer.yaml", "booster.yaml"} {
		name = filepath.Join(dir, "boards", name)
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		patient := strings.Replace(string(text), "lockstep: true}", "lockstep: true, answer: 1 s}", 1)
		require.NotEqual(t, string(text), patient)
		require.NoError(t, os.WriteFile(name, []byte(patient), 0o644))
	}
	v := benchtest.Fly(t, filepath.Join(dir, "nominal.yaml"), benchtest.Options{Link: func(string) (link.Link, error) {
		return link.Open(t.Context(), "exec:'"+program+"'", link.Options{})
	}})
	require.NotEmpty(t, v.Findings)
}
