package bench_test

import (
	"os"
	"testing"

	"drystage/harness"
	"drystage/harness/bench"
	"drystage/harness/board"
	"drystage/harness/board/mock"
	"drystage/harness/files"
	"drystage/harness/link"
	"drystage/harness/verdict"
	"drystage/sim/world"
)

// A team flies a scenario against its own board from go test. Here the board is the built-in one in
// memory; link.Open takes the address of a real or emulated one.
func TestOwnBoard(t *testing.T) {
	plan, problems := files.Load(os.DirFS("../../scenarios"), "booster-recovery.yaml")
	if len(problems) > 0 {
		t.Fatal(problems[0])
	}
	rec := harness.Record{Plan: plan}
	var boards []board.Board
	for i, b := range plan.Boards {
		guest, _ := mock.New("")
		boards = append(boards, board.NewClient(link.Memory(guest), b, &plan.Setup.Bays[i], board.Options{}))
	}
	if err := bench.Run(t.Context(), world.New(&plan.Setup), boards, bench.Lockstep{}, &rec); err != nil {
		t.Fatal(err)
	}
	if v := verdict.Judge(&rec); v.Answer != harness.Pass {
		t.Fatalf("%+v", v.Findings)
	}
}
