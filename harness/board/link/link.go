// Package link gives byte pipes to a board: a serial port, a program's standard input and output, a
// socket, or memory. Being late is os.ErrDeadlineExceeded on all of them, and a lost end is ErrGone.
//
// It never knows what the bytes mean, never tries again, and never starts a program unless its
// address says exec:.
package link

import (
	"errors"
	"io"
	"time"
)

// Link is a byte pipe to a board. One goroutine may Read while another one Writes; Close may
// interrupt a Read.
//
// Write sends all bytes or fails. Read gives at least one byte or an error: os.ErrDeadlineExceeded
// when the deadline passes first (the link stays usable), ErrGone when the other end is lost,
// os.ErrClosed after Close. The zero deadline waits for ever. Close twice is fine.
type Link interface {
	io.ReadWriteCloser
	SetReadDeadline(t time.Time) error
}

// ErrGone is in the error of every link whose other end is lost: unplugged, exited, hung up.
var ErrGone = errors.New("port gone")

// Carries is how long bytes take on a link whose speed is known; 0 on all others.
func Carries(l Link, bytes int) time.Duration {
	if c, ok := l.(interface{ carries(int) time.Duration }); ok {
		return c.carries(bytes)
	}
	return 0
}

// Instant says that everything the other end will answer is there as soon as Write has returned, so
// that waiting is of no use.
func Instant(l Link) bool {
	i, ok := l.(interface{ Instant() bool })
	return ok && i.Instant()
}
