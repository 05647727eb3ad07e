//go:build linux || darwin

package firmwarecontract

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"drystage/harness"
	"drystage/harness/board/boardtest"
	"drystage/harness/board/link"
	"drystage/harness/board/link/linktest"
	"drystage/harness/board/mock"
	"drystage/harness/files/scenario"
	"drystage/harness/judge/verdict"
	runner "drystage/harness/run"
	"drystage/sim"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// tappedLink sees what a board says before anything happens to it.
type tappedLink struct {
	link.Link
	tap boardtest.Tap
	n   [2]int
}

func (l *tappedLink) Read(b []byte) (int, error) {
	n, err := l.Link.Read(b)
	l.tap.See(b[:n])
	l.n[linktest.FromBoard] += n
	return n, err
}

func (l *tappedLink) Write(b []byte) (int, error) {
	l.n[linktest.ToBoard] += len(b)
	return l.Link.Write(b)
}

// TestReferenceOnCorruptLines flies the firmware in C, as a process, with errors on its line. The
// many runs are flown with the built-in board, which decides the same; here the C decoder and the line to
// a process take part.
func TestReferenceOnCorruptLines(t *testing.T) {
	t.Parallel()
	program := reference(t)
	plan, problems := scenario.Load(scenario.Disk{}, "../scenarios/nominal.yaml")
	require.Empty(t, problems)
	runner.Rehearse(&plan.Setup)

	v, whole, rec := corruptFlight(t, &plan, program)
	require.Equal(t, harness.Pass, v.Answer, "%+v", v.Findings)
	require.Equal(t, litOf(rec), lightsOf(whole.tap.Edges))
	require.Len(t, litOf(rec), 3)
	kinds := int(linktest.Muted) + 1
	if raceOn {
		kinds = 2
	}
	for i := range kinds {
		r := rand.New(rand.NewPCG(uint64(i), 7))
		a := linktest.Fault{Kind: linktest.Kind(i), Direction: linktest.Direction(r.IntN(2)), Size: 1 + r.IntN(60), Bits: r.Uint64()}
		a.At = int(math.Pow(r.Float64(), 2) * float64(whole.n[a.Direction])) // most of it early, where most happens
		v, l, rec := corruptFlight(t, &plan, program, a)
		t.Logf("%s at byte %d, way %d: %s", a.Kind, a.At, a.Direction, v.Answer)
		if v.Answer == harness.Pass { // an accident may hit nothing but a delimiter
			assert.Equal(t, litOf(rec), lightsOf(l.tap.Edges), "%+v", a)
			assert.Equal(t, lightsOf(whole.tap.Edges), lightsOf(l.tap.Edges), "%+v", a)
		}
	}
}

// corruptFlight flies the sustainer's board as a process on a line with errors, and the booster's in
// memory.
func corruptFlight(t *testing.T, plan *harness.Plan, program string, what ...linktest.Fault) (harness.Verdict, *tappedLink, *harness.Record) {
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute) // a hang is a failure
	defer cancel()
	inner, err := link.Open(ctx, "exec:'"+program+"'", link.Options{})
	require.NoError(t, err)
	l := &tappedLink{Link: inner}
	g, err := mock.New("")
	require.NoError(t, err)
	links := map[string]link.Link{"sustainer": linktest.Inject(l, what...), "booster": link.Memory(g)}
	rec := flyWith(t, *plan, runner.Options{Link: func(role string) (link.Link, error) { return links[role], nil }, Timeout: time.Second, AnswerLimit: time.Second})
	return verdict.Judge(rec), l, rec
}

func litOf(rec *harness.Record) (outs []sim.Output) {
	for _, e := range rec.Outputs {
		if e.Bay == 0 && e.On {
			outs = append(outs, e.Output)
		}
	}
	return outs
}

func lightsOf(edges []sim.Output) (outs []sim.Output) {
	for _, e := range edges {
		if e.On {
			outs = append(outs, e)
		}
	}
	return outs
}
