package campaign

import (
	"context"
	"fmt"
	"io"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"drystage/harness/run/campaign/queuetest"
)

// server is a server of queues that this room's tests connect to.
type server struct{ *queuetest.Server }

func startServer(t testing.TB) server { return server{queuetest.Start(t)} }

// connect reaches the server.
func (s server) connect(t testing.TB) *Queue {
	var q *Queue
	require.Eventually(t, func() (ok bool) {
		var err error
		if q, err = Connect(t.Context(), Options{URL: s.URL}); err != nil {
			fmt.Fprintln(t.Output(), err)
		}
		return err == nil
	}, time.Minute, 50*time.Millisecond)
	t.Cleanup(q.Close)
	return q
}

// startWorker has a worker work until the test ends or stop is called.
func startWorker(t testing.TB, w *Worker) (stop func()) {
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error)
	if w.Notes == nil {
		w.Notes = io.Discard
	}
	go func() { ended <- w.Work(ctx) }()
	over := false
	stop = func() {
		if !over {
			over = true
			cancel()
			require.NoError(t, <-ended)
		}
	}
	t.Cleanup(stop)
	return stop
}
