//go:build linux || darwin

package firmwarecontract

import (
	"context"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// wrongs says for each wrong firmware which points of `drystage contract` fail, all of them and in
// order, and the words of the first one's reason that name the mistake.
var wrongs = []struct {
	name  string // of the file in wrong/
	fails []string
	named string
}{
	{"acts-on-bad-crc", []string{
		"corrupt: a flipped bit in the payload",
		"corrupt: a flipped bit in the CRC",
		"corrupt: a flipped bit in the type",
		"corrupt: one byte missing",
		"corrupt COMMANDs change nothing",
		"an armed board does nothing for a flight that comes corrupt",
	}, "acted on a corrupt frame"},
	{"ignores-restart", []string{"after RESTART the board is silent until HELLO", "RESTART raises the count of starts by one"}, "the board ignores RESTART"},
	{"outputs-high-at-boot", []string{"outputs are dark and the board is unarmed when a run begins", "no output is on while DONE says unarmed"}, "outputs 0000000000000010 are on when the board starts"},
	{"wrong-byte-order", []string{"WELCOME comes in time"}, "the byte order is wrong, big-endian"},
	{"wrong-byte-order-of-fields", []string{"WELCOME's numbers are little-endian"}, "the board's byte order is wrong"},
	{"sequence-stuck", []string{"the board numbers its frames"}, "sequence number is stuck"},
	{"answers-late", []string{"every TICK is answered in time"}, "the board answers too late"},
	{"wrong-crc-polynomial", []string{"WELCOME comes in time"}, "the CRC polynomial is wrong"},
	{"deaf-after-garbage", []string{"the board finds its way again after garbage"}, "deaf after garbage"},
	{"claims-too-high-a-rate", []string{"samples at the announced rates are all taken and answered"}, "drops frames at the rate that it has taken"},
	{"wrong-units", []string{"REPORT is in mm and mm/s, above the pad"}, "wrong units: height is 0.0999 times what it must be: it seems to be in centimetres"},
	{"stays-armed", []string{"COMMAND disarms the board at once, and DONE says so"}, "is armed by another COMMAND arm and by nothing else"},
	{"fires-disarmed", []string{
		"disarmed on the pad, a board stays dark through a flight",
		"no output is on while DONE says unarmed",
	}, "a board that was disarmed must not fire"},
	{"disarm-leaves-on", []string{"COMMAND disarm makes outputs dark at once, in flight too", "no output is on while DONE says unarmed"}, "disarming leaves an output on"},
	{"restart-opens-main", []string{"restarted while armed on the pad, a board stays dark"}, "a supply that fails for a moment on the pad is no flight"},
	{"clock-does-not-wrap", []string{"after four hours of clock, and a wrap of its 32 bits in flight, the board does the same"}, "the board's clock does not last"},
	{"restart-after-wrap", []string{"restarted in flight while its clock wraps, the board goes on as near time 0"}, "the board's clock does not last over a restart"},
	{"settings-ignored", []string{"outputs switch where SETTING puts them, up to the last one"}, "the board confirms a SETTING and ignores it"},
	{"eight-outputs", []string{"outputs switch where SETTING puts them, up to the last one", "OUTPUT and DONE agree"}, "are they kept in too few bits"},
	{"blocks-in-log", []string{"every TICK is answered within a period of the fastest sensor"}, "let nothing block, neither a log nor a sensor"},
	{"open-fires-main", []string{"a circuit that opens or is shorted fires nothing, armed on the pad and in flight"}, "a wire that is lost is no reason to fire anything"},
	{"test-while-armed", []string{"TEST is refused while armed"}, "obeys TEST while armed: it would fire"},
	{"test-in-flight", []string{"TEST is refused in flight, and until power-up"}, "obeys TEST in flight: it would fire"},
	{"test-never-ends", []string{"TEST pulses each output of a new board, and the board's clock ends it"}, "the pulse does not end by itself"},
}

// TestWrongFirmwares builds each wrong firmware and lets the command name what is wrong with it. make check holds every
// second against the contract, make boards all.
func TestWrongFirmwares(t *testing.T) {
	t.Parallel()
	diffs, err := filepath.Glob("wrong/*.diff")
	require.NoError(t, err)
	require.Len(t, diffs, len(wrongs), "each has a row")
	list := wrongs
	if os.Getenv("DRYSTAGE_BOARDS") != "all" {
		list = nil
		for i := 0; i < len(wrongs); i += 2 {
			list = append(list, wrongs[i])
		}
	}
	diffs = []string{""}
	for _, w := range list {
		diffs = append(diffs, "wrong/"+w.name+".diff")
	}
	results := holdAll(t, diffs)
	for _, w := range list {
		t.Run(w.name, func(t *testing.T) {
			status, points := results["wrong/"+w.name+".diff"].read(t)
			assert.Equal(t, 1, status)
			var failed []string
			reason := ""
			for _, p := range points {
				if p.Answer != "fail" {
					continue
				}
				if failed = append(failed, p.Text); reason == "" {
					reason = p.Reason
				}
			}
			assert.Equal(t, w.fails, failed)
			assert.Contains(t, reason, w.named)
		})
	}
	t.Run("the honest one", func(t *testing.T) {
		status, points := results[""].read(t)
		assert.Equal(t, 0, status)
		assert.Greater(t, len(points), 50)
		for _, p := range points {
			assert.Equal(t, "pass", p.Answer, "%s: %s", p.Text, p.Reason)
		}
	})
}

// mostAtOnce is how many firmwares are held against the contract at the same time: one point measures 5 s of silence,
// which a crowd would make longer.
const mostAtOnce = 6

// holdAll builds a firmware for each diff and holds them against the contract, some at once: most of the time they
// wait, since one point is about silence.
func holdAll(t *testing.T, diffs []string) map[string]*held {
	drystage, cc := command(t), need(t, "cc")
	results := map[string]*held{}
	turn := make(chan struct{}, mostAtOnce)
	var all sync.WaitGroup
	for _, diff := range diffs {
		h := &held{}
		results[diff] = h
		board := firmware(t, cc, diff)
		all.Go(func() {
			turn <- struct{}{}
			defer func() { <-turn }()
			limit, timeout := "20s", "30s"
			switch {
			case strings.Contains(diff, "blocks-in-log"):
				limit = "150ms"
			case strings.Contains(diff, "answers-late"):
				timeout = "6s"
			}
			h.run(t.Context(), drystage, board, "--answer-limit", limit, "--timeout", timeout, "--set", "staging_channel=1", "--set", "drogue_channel=2", "--set", "main_channel=3")
		})
	}
	all.Wait()
	return results
}

// TestReadmeHoldsTheContract: the board that README prints passes all that it offers.
func TestReadmeHoldsTheContract(t *testing.T) {
	t.Parallel()
	h := &held{}
	h.run(t.Context(), command(t), compile(t, need(t, "cc"), readmeMain(t), "test/readme.c", "src/drystage.c"),
		"--answer-limit", "20s", "--timeout", "30s", "--without", "restart", "--without", "settings", "--without", "reports")
	status, points := h.read(t)
	assert.Equal(t, 0, status)
	assert.Greater(t, len(points), 35)
	for _, p := range points {
		assert.Equal(t, "pass", p.Answer, "%s: %s", p.Text, p.Reason)
	}
}

// command builds drystage.
func command(t *testing.T) string {
	out := filepath.Join(t.TempDir(), "drystage")
	run(t, need(t, "go"), "build", "-o", out, "../cmd/drystage")
	return out
}

// firmware builds the reference firmware, changed by a diff unless that is empty.
func firmware(t *testing.T, cc, diff string) string {
	dir := t.TempDir()
	for _, part := range []string{"include", "src", "reference", "ports/posix"} {
		require.NoError(t, os.MkdirAll(filepath.Join(dir, filepath.Dir(part)), 0o755))
		require.NoError(t, os.CopyFS(filepath.Join(dir, part), os.DirFS(part)))
	}
	for _, part := range []string{"ports/board.c", "ports/board.h"} {
		text, err := os.ReadFile(part)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, part), text, 0o600))
	}
	if diff != "" {
		text, err := os.ReadFile(diff)
		require.NoError(t, err)
		patched(t, dir, string(text))
	}
	sources, err := filepath.Glob(filepath.Join(dir, "reference", "*.c"))
	require.NoError(t, err)
	out := filepath.Join(dir, "board")
	args := append(append([]string{}, warnings...), "-O1", "-ffp-contract=off", "-D_POSIX_C_SOURCE=200809L",
		"-I"+dir+"/include", "-I"+dir+"/reference", "-o", out, dir+"/ports/posix/main.c", dir+"/ports/board.c", dir+"/src/drystage.c")
	run(t, cc, append(append(args, sources...), "-lm")...)
	return out
}

// patched applies a unified diff to the files of a folder. Each hunk goes where its lines stand; they
// must stand there once, so that line numbers don't matter and a change of the source is noticed.
func patched(t *testing.T, dir, diff string) {
	file, hunks := "", 0
	var before, after strings.Builder
	change := func() {
		if before.Len() == 0 {
			return
		}
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		require.Equal(t, 1, strings.Count(string(text), before.String()), "%s has other lines now; make the diff anew:\n%s", file, before.String())
		require.NoError(t, os.WriteFile(file, []byte(strings.Replace(string(text), before.String(), after.String(), 1)), 0o644))
		hunks++
		before.Reset()
		after.Reset()
	}
	for line := range strings.Lines(diff) {
		switch {
		case strings.HasPrefix(line, "+++ b/"):
			file = filepath.Join(dir, strings.TrimSpace(line[6:]))
		case strings.HasPrefix(line, "--- a/"), strings.HasPrefix(line, "@@"):
			change()
		case file == "": // the words in front
		case line[0] == '-':
			before.WriteString(line[1:])
		case line[0] == '+':
			after.WriteString(line[1:])
		default:
			before.WriteString(line[1:])
			after.WriteString(line[1:])
		}
	}
	change()
	require.Positive(t, hunks)
}

type point struct {
	Text           string `json:"expectation"`
	Answer, Reason string
}

// held is what the command said of a firmware.
type held struct {
	status int
	out    []byte
	err    error
}

// run holds a firmware against the contract by the command, as a user does.
func (h *held) run(ctx context.Context, drystage, board string, more ...string) {
	args := append([]string{"contract", "--board", "exec:'" + board + "'", "--format", "json"}, more...)
	cmd := exec.CommandContext(ctx, drystage, args...)
	h.out, h.err = cmd.Output()
	h.status = cmd.ProcessState.ExitCode()
}

func (h *held) read(t *testing.T) (status int, points []point) {
	if h.err != nil {
		require.ErrorAs(t, h.err, new(*exec.ExitError), "%s", lastWords(h.err))
	}
	var said struct {
		Suite struct {
			Scenarios []struct{ Findings []point }
		}
	}
	require.NoError(t, json.Unmarshal(h.out, &said), "%s", h.out)
	require.Len(t, said.Suite.Scenarios, 1)
	return h.status, said.Suite.Scenarios[0].Findings
}
