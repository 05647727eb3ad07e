package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/link"
	"drystage/harness/board/mock"
	"drystage/harness/files/suite"
	"drystage/harness/judge/verdict"
	"drystage/harness/run"
	"drystage/harness/run/loop"
	"drystage/harness/show/page"
	"drystage/harness/show/report"
	"drystage/scenarios"
	"drystage/sim"
	"drystage/sim/world"
)

// shippedPlans loads the shipped suite, rehearsed.
func shippedPlans(t testing.TB) []harness.Plan {
	plans := plansOf(t)
	require.GreaterOrEqual(t, len(plans), 16, "the suite has shrunk")
	return plans
}

// plansOf loads scenarios, rehearsed.
func plansOf(t testing.TB, paths ...string) []harness.Plan {
	s, err := suite.Load(paths, t.Output())
	require.NoError(t, err)
	for i := range s.Plans {
		run.Rehearse(&s.Plans[i].Setup)
	}
	return s.Plans
}

// flyOn flies a plan against boards at one address and gives its record.
func flyOn(t testing.TB, plan harness.Plan, address string) (rec *harness.Record) {
	plans := []harness.Plan{plan}
	b, err := run.Open(t.Context(), run.Options{Boards: []string{address}, Timeout: time.Minute, AnswerLimit: time.Minute}, plans)
	require.NoError(t, err)
	defer b.Close()
	require.NoError(t, b.Fly(t.Context(), plans, func(_ int, r *harness.Record) error { rec = r; return nil }))
	return rec
}

// The page of the whole suite stays small enough to be sent to somebody.
func TestSuitePassesOnTheHonestMock(t *testing.T) {
	var mu sync.Mutex
	var scenes []page.Summary
	t.Cleanup(func() {
		var b bytes.Buffer
		require.NoError(t, page.Write(&b, scenes, report.Options{}))
		require.Less(t, b.Len(), 4<<20, "bytes")
		require.NotContains(t, b.String(), "NaN")
	})
	for i, p := range shippedPlans(t) {
		if raceOn && i%24 != 0 {
			continue // make suite flies them all
		}
		t.Run(p.Name, func(t *testing.T) {
			t.Parallel()
			rec := flyOn(t, p, "mock")
			v := verdict.Judge(rec)
			scene := page.Summarize(rec, v)
			mu.Lock()
			scenes = append(scenes, scene)
			mu.Unlock()
			for _, f := range v.Findings {
				if f.Answer != harness.Pass {
					t.Errorf("%s: %s: %s: %s", f.Place, f.Text, f.Answer, f.Reason)
				}
			}
			require.NotEmpty(t, v.Findings)
		})
	}
}

// slow leaves a test that is long, or in which nothing runs at the same time, to the run without the race detector.
func slow(t *testing.T) {
	if raceOn {
		t.Skip("make check runs this one without the race detector: make suite")
	}
}

// TestSuiteCatchesEveryDefect is the canary: each known-bad board must fail the scenario that testdata/caught.txt
// names beside it. Anew, from flights of the whole suite:
//
//	UPDATE_CAUGHT=1 go test ./cmd/drystage -run SuiteCatchesEveryDefect
func TestSuiteCatchesEveryDefect(t *testing.T) {
	slow(t)
	plans := shippedPlans(t)
	require.GreaterOrEqual(t, len(mock.Defects()), 45)
	if os.Getenv("UPDATE_CAUGHT") != "" {
		var rows strings.Builder
		for _, x := range mock.Defects() {
			fmt.Fprintln(&rows, x.Name, caughtBy(t, x.Name, plans))
		}
		require.NoError(t, os.WriteFile(caughtFile, []byte(rows.String()), 0o644))
	}
	text, err := os.ReadFile(caughtFile)
	require.NoError(t, err)
	known := map[string]string{}
	for row := range strings.Lines(string(text)) {
		defect, scenario, _ := strings.Cut(strings.TrimSpace(row), " ")
		known[defect] = scenario
	}
	for _, x := range mock.Defects() {
		t.Run(x.Name, func(t *testing.T) {
			t.Parallel()
			i := slices.IndexFunc(plans, func(p harness.Plan) bool { return p.Name == known[x.Name] })
			require.GreaterOrEqual(t, i, 0, "no scenario %q", known[x.Name])
			require.NotEmpty(t, caughtBy(t, x.Name, plans[i:i+1]), "no scenario fails on a board with this defect: %s", x.Accident)
		})
	}
}

const caughtFile = "testdata/caught.txt"

// caughtBy names the first scenario that fails on a board with a defect.
func caughtBy(t *testing.T, defect string, plans []harness.Plan) (name string) {
	b, err := run.Open(t.Context(), run.Options{Boards: []string{"mock:" + defect}}, plans)
	require.NoError(t, err)
	defer b.Close()
	caught := errors.New("caught")
	err = b.Fly(t.Context(), plans, func(i int, r *harness.Record) error {
		if verdict.Judge(r).Answer != harness.Fail {
			return nil
		}
		name = plans[i].Name
		return caught
	})
	if !errors.Is(err, caught) {
		require.NoError(t, err)
	}
	return name
}

// TestChildProcessEqualsMock flies scenarios against this binary playing the board as a program, and wants the outputs of the
// mock in process, to the nanosecond. In the nominal flight all boards are programs, else the one that has the fault.
func TestChildProcessEqualsMock(t *testing.T) {
	slow(t)
	if !link.HasProcesses {
		t.Skip("no programs on this platform")
	}
	binary := t.TempDir() + "/drystage"
	out, err := exec.Command("go", "build", "-o", binary, ".").CombinedOutput()
	require.NoError(t, err, string(out))
	tried := map[sim.FaultKind]bool{}
	for _, p := range shippedPlans(t) {
		// An exchange over a line is the same on the long way down: but for one flight, that is left out.
		if up := (sim.Anchor{Event: sim.EventApogee, Offset: 5 * sim.Second}); p.Name != "nominal" && p.Setup.Until.Event == sim.EventLanding {
			if _, known := up.In(p.Setup.Rehearsed); known {
				p.Setup.Until = up
			}
		}
		fresh, child := false, 0 // a kind of fault on the line or the supply that no scenario before had, and its board
		for _, f := range p.Setup.Faults {
			if l := f.Kind.Layer(); (l == sim.OnLink || l == sim.OnPower) && !tried[f.Kind] {
				tried[f.Kind], fresh, child = true, true, f.Bay
			}
		}
		if !fresh && p.Name != "nominal" {
			continue // nothing here is new to a child
		}
		t.Run(p.Name, func(t *testing.T) {
			t.Parallel()
			at := "exec:" + binary + " play"
			if p.Name != "nominal" {
				at = p.Setup.Bays[child].Name + "=" + at
			}
			inside, outside := flyOn(t, p, "mock"), flyOn(t, p, at)
			require.True(t, outside.Complete(), outside.Cause)
			require.Equal(t, inside.Outputs, outside.Outputs)
			require.Equal(t, inside.Reports, outside.Reports)
			for i := range outside.Health {
				if p.Name == "nominal" || i == child {
					require.NotZero(t, outside.Health[i].Answers.Slowest, "by the clock on the wall, so that no two runs are alike")
				}
				outside.Health[i].Answers = harness.Answers{}
			}
			outside.Made.Boards = inside.Made.Boards // the addresses differ, as they must
			require.Equal(t, verdict.Judge(inside), verdict.Judge(outside))
		})
	}
}

// BenchmarkClosedLoop flies the nominal scenario, two boards, IMU 200 Hz, barometer 50 Hz, GNSS 10 Hz,
// in lockstep with the mock in process. x-realtime is simulated seconds per wall second on one core.
func BenchmarkClosedLoop(b *testing.B) {
	plan := plansOf(b, "scenarios/nominal.yaml")[0]
	rec := &harness.Record{Plan: plan}
	var flown, ticks float64
	b.ReportAllocs()
	for b.Loop() {
		rec.Reset()
		boards := make([]board.Board, len(plan.Boards))
		for i := range boards {
			g, err := mock.New("")
			require.NoError(b, err)
			boards[i] = board.NewClient(link.Memory(g), plan.Boards[i], &plan.Setup.Bays[i], board.Options{})
		}
		require.NoError(b, loop.Run(b.Context(), world.New(&plan.Setup), boards, loop.Lockstep{}, rec))
		require.True(b, rec.Complete())
		flown += rec.Times[rec.Ticks()-1].Seconds()
		ticks += float64(rec.Ticks())
	}
	b.ReportMetric(flown/b.Elapsed().Seconds(), "x-realtime")
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/ticks, "ns/tick")
}

// BenchmarkSweep flies 50 flights of a sweep as the command does; ms/flight is time by the clock on all processors.
func BenchmarkSweep(b *testing.B) {
	b.Chdir("../..")
	n := 0
	for b.Loop() {
		code := execute([]string{"sweep", "scenarios/launch-day.yaml", "--flights", "50", "--quiet"}, &console{ctx: b.Context(), in: os.Stdin, out: io.Discard, err: io.Discard})
		require.LessOrEqual(b, code, failed)
		n += 50
	}
	b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(n), "ms/flight")
}

func TestMain_HelpNeedsNoTerminal(t *testing.T) {
	var out, errs strings.Builder
	code := execute([]string{"--help"}, &console{ctx: t.Context(), in: os.Stdin, out: &out, err: &errs})
	require.Equal(t, passed, code)
	require.Contains(t, out.String(), "inert benches only")
}

const shortScenario = `drystage: scenario
like: scenarios/nominal.yaml
title: Short
until: booster.burnout + 0.5 s
expect:
  - {never: sustainer.main}
vary:
  - {of: wind.speed, between: [1 m/s, 3 m/s]}
`

// shortSuite makes the working folder one with the shipped suite and a short scenario of it.
func shortSuite(t *testing.T) {
	t.Chdir(t.TempDir())
	require.NoError(t, os.CopyFS("scenarios", scenarios.Files))
	require.NoError(t, os.WriteFile("short.yaml", []byte(shortScenario), 0o644))
}
