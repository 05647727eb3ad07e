package loop

import (
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"drystage/sim"
)

// policies counts the threads of this process by their policy and priority.
func policies(t *testing.T) map[[2]uint32]int {
	tasks, err := os.ReadDir("/proc/self/task")
	require.NoError(t, err)
	n := map[[2]uint32]int{}
	for _, task := range tasks {
		tid, _ := strconv.Atoi(task.Name())
		if a, err := unix.SchedGetAttr(tid, 0); err == nil {
			n[[2]uint32{a.Policy, a.Priority}]++
		}
	}
	return n
}

// TestPriorities: where the system grants it, one thread keeps the time and all others come next, until
// the pacer is done; where it doesn't, the pacer says so.
func TestPriorities(t *testing.T) {
	before := policies(t)
	require.Len(t, before, 1)
	p := NewRealTime(RealTimeOptions{})
	_, err := p.Wait(t.Context(), 0)
	require.NoError(t, err)
	during, how := policies(t), p.Pace().How
	p.Done()
	for policy := range policies(t) {
		assert.Contains(t, before, policy, "given back")
	}
	if _, ok := during[[2]uint32{fifo, priority}]; !ok {
		assert.Contains(t, how, "ordinary priority (SCHED_FIFO: ")
		return
	}
	assert.Contains(t, how, "SCHED_FIFO 80")
	assert.Equal(t, 1, during[[2]uint32{fifo, priority}])
	assert.Len(t, during, 2, "%v", during)
	assert.Positive(t, during[[2]uint32{fifo, others}])

	q := NewRealTime(RealTimeOptions{Ordinary: true, Limit: sim.Second})
	_, err = q.Wait(t.Context(), 0)
	require.NoError(t, err)
	assert.Len(t, policies(t), 1)
	q.Done()
}
