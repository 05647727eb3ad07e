package audit_test

import (
	"fmt"
	"io/fs"
	"path"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board/link"
	"drystage/harness/board/link/linktest"
	"drystage/harness/board/mock"
	"drystage/harness/files/scenario"
	"drystage/harness/run"
	"drystage/scenarios"
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
	run.Rehearse(&plan.Setup)
	return plan
}

// fly flies the plan on the built-in board with a defect, an empty one for none; accidents happen on the
// sustainer's line.
func fly(t testing.TB, plan *harness.Plan, defect string, accidents ...linktest.Fault) (rec *harness.Record) {
	links := map[string]link.Link{}
	for _, b := range plan.Boards {
		g, err := mock.New(defect)
		require.NoError(t, err)
		links[b.Role] = link.Memory(g)
	}
	if first := plan.Boards[0].Role; len(accidents) > 0 {
		links[first] = linktest.Inject(links[first], accidents...)
	}
	plans := []harness.Plan{*plan}
	b, err := run.Open(t.Context(), run.Options{Link: func(role string) (link.Link, error) { return links[role], nil }}, plans)
	require.NoError(t, err)
	defer b.Close()
	require.NoError(t, b.Fly(t.Context(), plans, func(_ int, r *harness.Record) error { rec = r; return nil }))
	rec.Made = made
	return rec
}
