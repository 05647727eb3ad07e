package link

import (
	"errors"
	"fmt"
	"os"
	"sync/atomic"
	"time"

	"go.bug.st/serial"
)

const (
	// maxEmptyReads is how many reads in a row may return nothing before their time: go.bug.st/serial reports some
	// hang-ups so.
	maxEmptyReads = 8
	// stallTime is how long the other end may take nothing, beyond the time that the bytes need.
	stallTime = 2 * time.Second
)

// ErrStuck says that the other end takes nothing, so that a write did not end.
var ErrStuck = errors.New("the other end takes nothing")

func stuckError(name string, sent, of int, limit time.Duration) error {
	return fmt.Errorf("link: %s: %w: %d of %d bytes in %s; does the board run, and read?", name, ErrStuck, sent, of, limit)
}

// serialPort is what port needs of a serial port.
type serialPort interface {
	Read(b []byte) (int, error)
	Write(b []byte) (int, error)
	Close() error
	SetReadTimeout(d time.Duration) error
}

// port makes a Link of go.bug.st/serial. Read of that library gives (0, nil) when it is late; its Write may send a
// part, or block for ever.
type port struct {
	serial   serialPort
	locked   *lockedPort // nil in tests of the wrapping alone
	name     string      // for messages
	path     string
	baud     int
	id       *Identity // of usb=
	list     func() ([]Port, error)
	deadline time.Time
	closed   atomic.Bool
}

func (p *port) SetReadDeadline(t time.Time) error {
	p.deadline = t
	return nil
}

func (p *port) Read(b []byte) (n int, err error) {
	defer func() {
		// A descriptor of 1024 or more is beyond what select can watch, and panics there.
		if r := recover(); r != nil {
			n, err = 0, fmt.Errorf("link: %s: too many open files to read from a port (%v)", p.name, r)
		}
	}()
	for range maxEmptyReads {
		if p.closed.Load() {
			return 0, os.ErrClosed
		}
		wait := serial.NoTimeout
		if !p.deadline.IsZero() {
			wait = max(0, time.Until(p.deadline))
		}
		if err := p.serial.SetReadTimeout(wait); err != nil {
			return 0, p.goneError(err)
		}
		switch n, err := p.serial.Read(b); {
		case n > 0:
			return n, nil
		case err != nil:
			return 0, p.goneError(err)
		case wait != serial.NoTimeout && !time.Now().Before(p.deadline):
			return 0, os.ErrDeadlineExceeded
		}
	}
	return 0, p.goneError(errors.New("it gives nothing"))
}

func (p *port) Write(b []byte) (int, error) {
	w := p.writer()
	limit := p.writeTimeout(len(b))
	if p.locked != nil {
		p.locked.boundWrite(time.Now().Add(limit))
	}
	for sent := 0; sent < len(b); {
		if p.closed.Load() {
			return sent, os.ErrClosed
		}
		n, err := w.Write(b[sent:])
		sent += max(n, 0)
		switch {
		case errors.Is(err, os.ErrDeadlineExceeded):
			return sent, stuckError(p.name, sent, len(b), limit)
		case err == nil && n == 0:
			return sent, p.goneError(errors.New("it takes nothing"))
		case err != nil:
			return sent, p.goneError(err)
		}
	}
	return len(b), nil
}

// writer is the locked descriptor, if its writes can be bounded.
func (p *port) writer() interface{ Write([]byte) (int, error) } {
	if p.locked != nil && p.locked.canBoundWrites() {
		return p.locked
	}
	return p.serial
}

// writeTimeout is twice the time that the bytes take at the port's speed, plus stallTime.
func (p *port) writeTimeout(n int) time.Duration {
	return stallTime + 2*p.carries(n)
}

// carries is ten bit times for each byte.
func (p *port) carries(n int) time.Duration {
	if p.baud == 0 {
		return 0
	}
	return time.Duration(n) * 10 * time.Second / time.Duration(p.baud)
}

// goneError is the error of a lost end: unplugged, plugged in elsewhere, or hung up.
func (p *port) goneError(err error) error {
	if p.closed.Load() {
		return os.ErrClosed
	}
	return fmt.Errorf("link: %s: %w (%w); %s", p.name, ErrGone, err, p.locate())
}

// locate says what has happened to the port's name and, if it was named by its identity, to its device.
func (p *port) locate() string {
	const check = "check cable and supply"
	if p.path == "" {
		return check
	}
	_, err := os.Stat(p.path)
	missing := os.IsNotExist(err)
	if p.id != nil {
		if ports, err := p.list(); err == nil {
			if now, err := findByIdentity(ports, *p.id); err == nil && (missing || now.Name != p.path) {
				return "it was unplugged and is back at " + now.Name + ", run again"
			}
		}
	}
	if missing {
		return "unplugged: " + p.path + " is no longer there; " + check + ", then run again"
	}
	return check
}

func (p *port) Close() error {
	if p.closed.Swap(true) {
		return nil
	}
	var own error
	if p.locked != nil {
		own = p.locked.Close() // first: it ends a blocked write
	}
	return errors.Join(p.serial.Close(), own)
}
