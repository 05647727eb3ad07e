//go:build linux

package firmwarecontract

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/judge/verdict"
	runner "drystage/harness/run"
	"drystage/sim"
)

// unawareDir is where the unaware firmware and the emulator are, built once for all tests.
var unawareDir struct {
	once sync.Once
	name string
}

func TestMain(m *testing.M) {
	code := m.Run()
	_ = os.RemoveAll(unawareDir.name)
	os.Exit(code)
}

// chip gives the address of an emulated chip with a firmware that doesn't speak the contract.
func chip(t testing.TB, wiring string) string {
	for _, tool := range []string{"make", "cc", "avr-gcc"} {
		need(t, tool)
	}
	unawareDir.once.Do(func() {
		dir, err := os.MkdirTemp("", "unaware-")
		require.NoError(t, err)
		unawareDir.name = dir
		run(t, "make", "OUT="+dir, "unaware")
	})
	return "avr:" + unawareDir.name + "/unaware-avr.elf?wiring=" + wiring
}

// unreported leaves out what only a board can answer that reports.
func unreported(plan *harness.Plan) {
	plan.Expect = slices.DeleteFunc(slices.Clone(plan.Expect), func(e harness.Expectation) bool { return e.Kind == harness.Reports })
}

// flyChip flies a plan with an emulated chip as the sustainer's board.
func flyChip(t testing.TB, plan harness.Plan, address string) *harness.Record {
	unreported(&plan)
	boards := []string{"sustainer=" + address}
	if len(plan.Boards) > 1 {
		boards = append(boards, "mock")
	}
	return flyWith(t, plan, runner.Options{Boards: boards, Timeout: time.Minute, AnswerLimit: time.Minute})
}

// failures lists what isn't passed.
func failures(v *harness.Verdict) (out []string) {
	for _, f := range v.Findings {
		if f.Answer != harness.Pass {
			out = append(out, fmt.Sprint(f.Answer, " ", f.Text, ": ", f.Reason))
		}
	}
	return out
}

// untilFew is when the scenarios of make check end: after what the firmware has to decide in them. make boards flies
// all that it is built for, to the ground.
var untilFew = map[string]sim.Anchor{
	"nominal":          {Event: sim.EventApogee, Offset: fewEnd},
	"brown-out-firing": {Event: sim.EventApogee, Offset: fewEnd},
	"staging-tilt":     {Event: "booster.burnout", Offset: 4 * sim.Second},
}

var drogueFires = regexp.MustCompile("^sustainer.drogue fires (from|at most once)")

// TestUnaware flies a firmware that doesn't speak the contract, with stand-in sensors on the buses of its chip: what
// it decides passes, and twice the same, to the byte.
func TestUnaware(t *testing.T) {
	if raceOn {
		t.Skip("emulators are not raced; make suite flies them without")
	}
	address := chip(t, "unaware/wiring.yaml")
	for name, until := range untilFew {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			plan := planOf(t, filepath.Join("../scenarios", name+".yaml"))
			plan.Setup.Until = until
			plan.Expect = slices.DeleteFunc(slices.Clone(plan.Expect), func(e harness.Expectation) bool {
				return !strings.HasPrefix(e.Text, "sustainer.ignite ") && (name == "staging-tilt" || !drogueFires.MatchString(e.Text))
			})
			require.NotEmpty(t, plan.Expect)
			rec := flyChip(t, plan, address)
			v := verdict.Judge(rec)
			require.Equal(t, harness.Pass, v.Answer, "%s", strings.Join(failures(&v), "\n"))
			require.Contains(t, rec.Made.Boards[0], "firmware ", "the record knows which firmware flew")
			if name == "nominal" {
				threeWays(t, plan, rec)
			}
			if name == "staging-tilt" {
				again := flyChip(t, plan, address)
				rec.Health, rec.Changes, again.Health, again.Changes = nil, nil, nil, nil // answers by the wall's clock
				require.Equal(t, rec, again)
			}
		})
	}
}

// threeWays compares the same flight on the built-in board, on the contract's firmware as a process, and on the unaware
// firmware: the first two send the same edges, and the third's are within what README.md says of it.
func threeWays(t *testing.T, plan harness.Plan, unaware *harness.Record) {
	unreported(&plan)
	mock := fly(t, plan, onMock)
	dir := t.TempDir()
	run(t, "make", "OUT="+dir, "reference")
	contract := flyWith(t, plan, runner.Options{Boards: []string{"sustainer=exec:'" + dir + "/reference'", "mock"}, Timeout: time.Minute, AnswerLimit: time.Minute})
	want := edgesOf(mock.Outputs, 0)
	require.Equal(t, want, edgesOf(contract.Outputs, 0))
	have := edgesOf(unaware.Outputs, 0)
	require.Len(t, have, len(want))
	require.GreaterOrEqual(t, len(want), 3, "the igniter on and off, the drogue on")
	rows := "" // of README.md
	for i := range want {
		require.Equal(t, want[i].Channel, have[i].Channel)
		require.Equal(t, want[i].On, have[i].On)
		require.InDelta(t, want[i].At.Seconds(), have[i].At.Seconds(), threeWaysWithin, "channel %d %t", want[i].Channel, want[i].On)
		if want[i].On {
			at := want[i].At.Seconds()
			rows += fmt.Sprintf("| %s | %.3f s | %.3f s | %.3f s |\n", map[int]string{1: "ignite", 2: "drogue"}[want[i].Channel], at, at, have[i].At.Seconds())
		}
	}
	readme, err := os.ReadFile("README.md")
	require.NoError(t, err)
	require.Contains(t, string(readme), rows)
}

// threeWaysWithin is in seconds.
const threeWaysWithin = 0.05
