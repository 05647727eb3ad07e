package loop_test

import (
	"os"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/link"
	"drystage/harness/board/mock"
	"drystage/harness/files/scenario"
	"drystage/harness/judge/verdict"
	"drystage/harness/run/loop"
	"drystage/sim"
	"drystage/sim/world"
)

func shipped(t *testing.T, name string) harness.Plan {
	p, problems := scenario.Load(os.DirFS("../../../scenarios"), name)
	require.Empty(t, problems)
	p.Setup.Rehearsed = world.Rehearse(&p.Setup)
	return p
}

// flown flies a plan in lockstep, or in real time when there is a pacer.
func flown(t *testing.T, p harness.Plan, defect string, pacer *loop.RealTime, source func(sim.Source) sim.Source) *harness.Record {
	var boards []board.Board
	for i, b := range p.Boards {
		g, err := mock.New(defect)
		require.NoError(t, err)
		if pacer != nil {
			boards = append(boards, board.NewRealTime(link.Memory(g), b, &p.Setup.Bays[i], board.Options{}, pacer.Now))
		} else {
			boards = append(boards, board.NewClient(link.Memory(g), b, &p.Setup.Bays[i], board.Options{}))
		}
	}
	rec := &harness.Record{Plan: p}
	src := sim.Source(world.New(&p.Setup))
	if source != nil {
		src = source(src)
	}
	var by loop.Pacer = loop.Lockstep{}
	if pacer != nil {
		by = pacer
	}
	require.NoError(t, loop.Run(t.Context(), src, boards, by, rec))
	for _, b := range boards {
		require.NoError(t, b.Close())
	}
	return rec
}

// TestRealTimeFliesAsLockstep: whole flights on a fake clock, two boards. Each output switches within
// one sample of lockstep's, in the same order, and the verdict is the same.
func TestRealTimeFliesAsLockstep(t *testing.T) {
	for _, c := range []struct {
		scenario, defect string
		lives            int
		tick             sim.Time
	}{
		{"nominal.yaml", "", 2, sim.Second / 200},
		{"power-cut-coast.yaml", "", 3, sim.Second / 200},
		{"staging-tilt.yaml", "ignores-tilt", 2, sim.Second / 25}, // lit a sample later it flies another way, and two samples of the barometer decide the rest
	} {
		t.Run(c.scenario, func(t *testing.T) {
			p := shipped(t, c.scenario)
			lock := flown(t, p, c.defect, nil, nil)
			synctest.Test(t, func(t *testing.T) {
				rec := flown(t, p, c.defect, loop.NewSoftTime(loop.DefaultLimit), nil)
				require.True(t, rec.Complete(), rec.Cause)
				require.Len(t, rec.Outputs, len(lock.Outputs))
				for i, want := range lock.Outputs {
					got := rec.Outputs[i]
					assert.Equal(t, [3]any{want.Bay, want.Channel, want.On}, [3]any{got.Bay, got.Channel, got.On})
					assert.InDelta(t, float64(want.At), float64(got.At), float64(c.tick+1), "edge %d: lockstep at %s, real time at %s", i, want.At, got.At)
				}
				assert.Len(t, rec.Clocks, c.lives, "one clock for each life of a board")
				for i, h := range rec.Health {
					assert.True(t, h.Faultless() && h.Unasked == 0 && h.Unarmed == 0, "%+v", h)
					assert.Equal(t, lock.Health[i].Boots, h.Boots)
				}
				for _, l := range rec.Late {
					require.Zero(t, l)
				}
				want, got := verdict.Judge(lock), verdict.Judge(rec)
				assert.Equal(t, want.Answer, got.Answer)
				for i, f := range want.Findings {
					assert.Equal(t, f.Answer, got.Findings[i].Answer, "%s: %s", f.Text, got.Findings[i].Reason)
				}
			})
		})
	}
}

// hiccup is a source that keeps the bench waiting once.
type hiccup struct {
	sim.Source
	at   sim.Time
	long time.Duration
	done bool
}

func (h *hiccup) Step(outs []sim.Output) (*sim.Tick, bool) {
	t, ok := h.Source.Step(outs)
	if t.Now >= h.at && !h.done {
		time.Sleep(h.long)
		h.done = true
	}
	return t, ok
}

// TestLateFrameLeavesUnsure: one frame beyond the limit, on the pad, where nothing depends on it.
func TestLateFrameLeavesUnsure(t *testing.T) {
	p := shipped(t, "nominal.yaml")
	for _, c := range []struct {
		reason string
		long   time.Duration
		want   harness.Answer
	}{
		{"late, but not by more than the limit", 6 * time.Millisecond, harness.Pass},
		{"too late", 8 * time.Millisecond, harness.Unsure},
	} {
		synctest.Test(t, func(t *testing.T) {
			rec := flown(t, p, "", loop.NewSoftTime(2*sim.Millisecond), func(s sim.Source) sim.Source {
				return &hiccup{Source: s, at: sim.Second, long: c.long}
			})
			v := verdict.Judge(rec)
			assert.Equal(t, c.want, v.Answer, c.reason)
			if c.want == harness.Unsure {
				last := v.Findings[len(v.Findings)-1]
				assert.Equal(t, "frames leave in time", last.Text)
				assert.Contains(t, last.Reason, "1 tick left more than 0.002")
				assert.Equal(t, 3*sim.Millisecond, v.Timing.Most)
			}
		})
	}
}
