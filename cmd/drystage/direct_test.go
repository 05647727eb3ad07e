package main

import (
	"bytes"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/link"
	"drystage/harness/board/mock"
	"drystage/harness/files/record"
	"drystage/harness/run/loop"
	"drystage/sim/world"
)

// onlyBytes hides the guest behind a link, so that nothing can be said to it but bytes.
type onlyBytes struct{ link.Link }

func (onlyBytes) Instant() bool { return true }

// flyBytes flies a plan against mocks in process and gives the bytes of its record.
func flyBytes(t *testing.T, plan harness.Plan, defect string, direct bool) []byte {
	rec := &harness.Record{Plan: plan}
	boards := make([]board.Board, len(plan.Boards))
	for i := range boards {
		g, err := mock.New(defect)
		require.NoError(t, err)
		l := link.Memory(g)
		if _, ok := link.DeviceOf(l); !ok || !direct {
			require.False(t, direct, "there is a way past the bytes")
			l = onlyBytes{l}
		}
		boards[i] = board.NewClient(l, plan.Boards[i], &plan.Setup.Bays[i], board.Options{})
	}
	require.NoError(t, loop.Run(t.Context(), world.New(&plan.Setup), boards, loop.Lockstep{}, rec))
	var b bytes.Buffer
	require.NoError(t, record.Write(&b, rec))
	return b.Bytes()
}

// TestMessagesEqualBytes: every third scenario of the suite, once by messages as they are where that is possible and once all
// by bytes, gives the same records; so do boards with some of the defects. make boards flies every scenario.
func TestMessagesEqualBytes(t *testing.T) {
	slow(t)
	defects := mock.Defects()
	for i, p := range shippedPlans(t) {
		if i%3 != 0 && os.Getenv("DRYSTAGE_BOARDS") != "all" {
			continue
		}
		t.Run(p.Name, func(t *testing.T) {
			t.Parallel()
			boards := []string{""}
			if i%4 == 0 { // of what boards may do wrong some is enough, the line is the same
				boards = append(boards, defects[i/4%len(defects)].Name)
			}
			for _, defect := range boards {
				if !bytes.Equal(flyBytes(t, p, defect, false), flyBytes(t, p, defect, true)) {
					t.Errorf("mock %q: the records differ", defect)
				}
			}
		})
	}
}
