package campaign

import (
	"context"
	"fmt"
	"io"
	"net"
	"os/exec"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// server is a real server of queues, as a process.
type server struct {
	url, dir, port string
	cmd            *exec.Cmd
}

// startServer starts one; it ends with the test.
func startServer(t *testing.T) *server {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	_, port, err := net.SplitHostPort(l.Addr().String())
	require.NoError(t, err)
	require.NoError(t, l.Close())
	s := &server{url: "nats://127.0.0.1:" + port, dir: t.TempDir(), port: port}
	s.start(t)
	t.Cleanup(func() { s.kill() })
	return s
}

func (s *server) start(t *testing.T) {
	name, err := exec.LookPath("nats-server")
	require.NoError(t, err, "make tools installs it")
	s.cmd = exec.Command(name, "-js", "-sd", s.dir, "-a", "127.0.0.1", "-p", s.port)
	require.NoError(t, s.cmd.Start())
	require.Eventually(t, func() bool {
		c, err := net.Dial("tcp", "127.0.0.1:"+s.port)
		if err == nil {
			c.Close()
		}
		return err == nil
	}, time.Minute, 10*time.Millisecond, "the server listens")
}

func (s *server) kill() {
	_ = s.cmd.Process.Signal(syscall.SIGKILL)
	_ = s.cmd.Wait()
}

// connect reaches the server.
func (s *server) connect(t *testing.T) *Queue {
	var q *Queue
	require.Eventually(t, func() (ok bool) {
		var err error
		if q, err = Connect(t.Context(), Options{URL: s.url}); err != nil {
			fmt.Fprintln(t.Output(), err)
		}
		return err == nil
	}, time.Minute, 50*time.Millisecond)
	t.Cleanup(q.Close)
	return q
}

// startWorker has a worker work until the test ends or stop is called.
func startWorker(t *testing.T, w *Worker) (stop func()) {
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
