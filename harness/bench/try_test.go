package bench_test

import (
	"fmt"
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

func TestTry(t *testing.T) {
	name := os.Getenv("TRY")
	if name == "" {
		t.Skip()
	}
	plan, problems := files.Load(os.DirFS("../../scenarios"), name+".yaml")
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	plan.Setup.Rehearsed = world.Rehearse(&plan.Setup)
	rec := harness.Record{Plan: plan}
	var boards []board.Board
	for i, b := range plan.Boards {
		guest, _ := mock.New(os.Getenv("DEFECT"))
		boards = append(boards, board.NewClient(link.Memory(guest), b, &plan.Setup.Bays[i], board.Options{}))
	}
	if err := bench.Run(t.Context(), world.New(&plan.Setup), boards, bench.Lockstep{}, &rec); err != nil {
		t.Fatal(err)
	}
	fmt.Println("cause", rec.Cause, rec.Ticks())
	for _, e := range rec.Events {
		i := 0
		for i < rec.Ticks()-1 && rec.Times[i] < e.At {
			i++
		}
		s := rec.State(i, 0)
		fmt.Printf("%9.3f %-50s h %7.1f v %6.1f tilt %5.1f | booster h %7.1f\n", e.At.Seconds(), e.Name, s.Position.Z, s.Velocity.Z, s.Tilt*57.3, rec.State(i, 1).Position.Z)
	}
	for _, l := range rec.Logs {
		fmt.Println("log", l.Bay, l.At, l.Text)
	}
	for _, o := range rec.Outputs {
		fmt.Println("out", o.Bay, o.Channel, o.On, o.At)
	}
	v := verdict.Judge(&rec)
	for _, f := range v.Findings {
		fmt.Printf("%-6s %-90s %s | %.3g %s share %.2f\n", f.Answer, f.Text, f.Reason, f.Margin, f.Unit, f.Share)
	}
}
