package audit_test

import (
	"fmt"
	"io/fs"
	"path"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/link"
	"drystage/harness/board/link/linktest"
	"drystage/harness/board/mock"
	"drystage/harness/files/scenario"
	"drystage/harness/run/loop"
	"drystage/scenarios"
	"drystage/sim/world"
)

// made is what makes and audits the records here.
var made = harness.Maker{Version: "test", Arch: "any", Boards: []string{"mock", "mock"}}

// short is a scenario of the shipped suite, cut short and with a few demands of its own.
type short struct{ like, until, expect string }

// beside is the shipped suite with one more file.
type beside struct {
	fs.FS
	more fstest.MapFS
}

func (b beside) Open(name string) (fs.File, error) {
	if _, ok := b.more[path.Clean(name)]; ok {
		return b.more.Open(name)
	}
	return b.FS.Open(name)
}

func (s short) plan(t testing.TB) harness.Plan {
	text := fmt.Sprintf("drystage: scenario\nlike: %s.yaml\nlaunch: 2.2 s\nuntil: %s\nexpect: [%s]\n", s.like, s.until, s.expect)
	plan, problems := scenario.Load(beside{scenarios.Files, fstest.MapFS{"short.yaml": {Data: []byte(text)}}}, "short.yaml")
	require.Empty(t, problems, s.like)
	plan.Setup.Rehearsed = world.Rehearse(&plan.Setup)
	return plan
}

// fly flies the plan on the built-in board with a defect, an empty one for none; accidents happen on the
// sustainer's line.
func fly(t testing.TB, plan *harness.Plan, defect string, accidents ...linktest.Fault) *harness.Record {
	var boards []board.Board
	for i, b := range plan.Boards {
		g, err := mock.New(defect)
		require.NoError(t, err)
		l := link.Memory(g)
		if i == 0 && len(accidents) > 0 {
			l = linktest.Inject(l, accidents...)
		}
		boards = append(boards, board.NewClient(l, b, &plan.Setup.Bays[i], board.Options{}))
	}
	rec := &harness.Record{Plan: *plan, Made: made}
	require.NoError(t, loop.Run(t.Context(), world.New(&plan.Setup), boards, loop.Lockstep{}, rec))
	return rec
}
