// Package benchtest lets a team fly scenario files against its own board from go test. It never says
// that a test passed when the run was unsure.
//
// A real board's outputs are live: dummy loads only, no motor, igniter or charge connected.
package benchtest

import (
	"path/filepath"
	"testing"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/link"
	"drystage/harness/files/scenario"
	"drystage/harness/judge/verdict"
	"drystage/harness/run/loop"
	"drystage/sim/world"
)

// Fly flies the scenario file in lockstep against the boards that open gives by role, and fails the
// test for every finding that is not a pass. It closes the links. The verdict is for further questions.
func Fly(t testing.TB, file string, open func(role string) (link.Link, error)) harness.Verdict {
	t.Helper()
	plan, problems := scenario.Load(scenario.Disk{}, filepath.ToSlash(file))
	for _, p := range problems {
		t.Error(p)
	}
	if len(problems) > 0 {
		t.FailNow()
	}
	plan.Setup.Rehearsed = world.Rehearse(&plan.Setup)
	rec := harness.Record{Plan: plan}
	host := board.WatchHostLatency()
	t.Cleanup(host.Close)
	var boards []board.Board
	for i, b := range plan.Boards {
		l, err := open(b.Role)
		if err != nil {
			t.Fatalf("board %s: %v", b.Role, err)
		}
		c := board.NewClient(l, b, &plan.Setup.Bays[i], board.Options{HostLatency: host.Worst})
		t.Cleanup(func() { c.Close() })
		boards = append(boards, c)
	}
	if err := loop.Run(t.Context(), world.New(&plan.Setup), boards, loop.Lockstep{}, &rec); err != nil {
		t.Fatal(err)
	}
	v := verdict.Judge(&rec)
	for _, f := range v.Findings {
		if f.Answer != harness.Pass {
			t.Errorf("%s: %s: %s: %s", f.Place, f.Answer, f.Text, f.Reason)
		}
	}
	return v
}
