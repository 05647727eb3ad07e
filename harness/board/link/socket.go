package link

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"time"
)

// dialTime limits the opening of a socket whose context has no deadline.
const dialTime = 10 * time.Second

func dial(ctx context.Context, network, address string) (Link, error) {
	name := network + ":" + address
	if _, _, err := net.SplitHostPort(address); network == "tcp" && err != nil {
		return nil, fmt.Errorf("link: %s: %w; write it as %s", name, err, formOf("tcp"))
	}
	d := net.Dialer{Timeout: dialTime}
	c, err := d.DialContext(ctx, network, address)
	if err != nil {
		return nil, fmt.Errorf("link: %s: %w; does anything listen there?", name, err)
	}
	return &socket{c, name}, nil
}

// socket makes a Link of a connection, by changing its errors.
type socket struct {
	net.Conn
	name string
}

func (s *socket) Read(b []byte) (int, error) {
	n, err := s.Conn.Read(b)
	if n > 0 {
		return n, nil // an error comes again
	}
	return 0, s.linkError(err)
}

func (s *socket) Write(b []byte) (int, error) {
	n, err := writeBounded(s.Conn, s.name, b)
	if errors.Is(err, ErrStuck) {
		return n, err
	}
	return n, s.linkError(err)
}

// writeBounded writes to a connection whose other end may take nothing for stallTime at most.
func writeBounded(c net.Conn, name string, b []byte) (int, error) {
	_ = c.SetWriteDeadline(time.Now().Add(stallTime))
	n, err := c.Write(b)
	if errors.Is(err, os.ErrDeadlineExceeded) {
		err = stuckError(name, n, len(b), stallTime)
	}
	return n, err
}

func (s *socket) Close() error {
	if err := s.Conn.Close(); !errors.Is(err, net.ErrClosed) {
		return err
	}
	return nil
}

func (s *socket) linkError(err error) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, os.ErrDeadlineExceeded):
		return os.ErrDeadlineExceeded
	case errors.Is(err, net.ErrClosed):
		return os.ErrClosed
	}
	return fmt.Errorf("link: %s: %w (%w)", s.name, ErrGone, err)
}
