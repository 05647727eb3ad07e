// Package queuetest is for tests: a real server of queues, as a process of its own.
package queuetest

import (
	"net"
	"os/exec"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Server is a running nats-server with JetStream, on this computer only.
type Server struct {
	URL string

	t            testing.TB
	address, dir string
	cmd          *exec.Cmd
}

// Start starts a server that ends with the test.
func Start(t testing.TB) *Server {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	s := &Server{t: t, address: l.Addr().String(), dir: t.TempDir()}
	require.NoError(t, l.Close())
	s.URL = "nats://" + s.address
	s.start()
	t.Cleanup(s.Kill)
	return s
}

// Restart kills the server and starts it again, with what it has kept on the disk.
func (s *Server) Restart() {
	s.Kill()
	s.start()
}

func (s *Server) start() {
	name, err := exec.LookPath("nats-server")
	require.NoError(s.t, err, "make tools installs it")
	host, port, err := net.SplitHostPort(s.address)
	require.NoError(s.t, err)
	s.cmd = exec.Command(name, "-js", "-sd", s.dir, "-a", host, "-p", port)
	require.NoError(s.t, s.cmd.Start())
	require.Eventually(s.t, func() bool {
		c, err := net.Dial("tcp", s.address)
		if err == nil {
			c.Close()
		}
		return err == nil
	}, time.Minute, 10*time.Millisecond, "the server listens")
}

// Kill ends the server at once; Restart brings it back.
func (s *Server) Kill() {
	_ = s.cmd.Process.Kill()
	_ = s.cmd.Wait()
}
