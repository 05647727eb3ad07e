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
	// maxEmpty is how many reads in a row may give nothing before their time: go.bug.st/serial
	// reports some hang-ups that way.
	maxEmpty = 8
	// stuck is how long the other end may take nothing, beyond the time that the bytes need.
	stuck = 2 * time.Second
)

// ErrStuck says that the other end of a serial port takes nothing, so that a write did not end.
var ErrStuck = errors.New("the other end takes nothing")

// pipe is what port needs of a serial port.
type pipe interface {
	Read(b []byte) (int, error)
	Write(b []byte) (int, error)
	Close() error
	SetReadTimeout(d time.Duration) error
}

// port makes a Link of go.bug.st/serial, whose Read gives (0, nil) when it is late and whose Write
// may send a part, or block for ever.
type port struct {
	under    pipe
	own      *claimed // nil in tests of the wrapping alone
	name     string   // for messages
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
	for range maxEmpty {
		if p.closed.Load() {
			return 0, os.ErrClosed
		}
		wait := serial.NoTimeout
		if !p.deadline.IsZero() {
			wait = max(0, time.Until(p.deadline))
		}
		if err := p.under.SetReadTimeout(wait); err != nil {
			return 0, p.gone(err)
		}
		switch n, err := p.under.Read(b); {
		case n > 0:
			return n, nil
		case err != nil:
			return 0, p.gone(err)
		case wait != serial.NoTimeout && !time.Now().Before(p.deadline):
			return 0, os.ErrDeadlineExceeded
		}
	}
	return 0, p.gone(errors.New("it gives nothing"))
}

func (p *port) Write(b []byte) (int, error) {
	w := p.writer()
	limit := p.patience(len(b))
	if p.own != nil {
		p.own.bound(time.Now().Add(limit))
	}
	for sent := 0; sent < len(b); {
		if p.closed.Load() {
			return sent, os.ErrClosed
		}
		n, err := w.Write(b[sent:])
		sent += max(n, 0)
		switch {
		case errors.Is(err, os.ErrDeadlineExceeded):
			return sent, fmt.Errorf("link: %s: %w: %d of %d bytes in %s; does the board run, and read?", p.name, ErrStuck, sent, len(b), limit)
		case err == nil && n == 0:
			return sent, p.gone(errors.New("it takes nothing"))
		case err != nil:
			return sent, p.gone(err)
		}
	}
	return len(b), nil
}

// writer is our own descriptor where its writes can be bounded.
func (p *port) writer() interface{ Write([]byte) (int, error) } {
	if p.own != nil && p.own.bounded() {
		return p.own
	}
	return p.under
}

// patience is twice what the bytes take at the port's speed, ten bit times each, and stuck.
func (p *port) patience(n int) time.Duration {
	return stuck + 2*p.carries(n)
}

// carries is ten bit times for each byte.
func (p *port) carries(n int) time.Duration {
	if p.baud == 0 {
		return 0
	}
	return time.Duration(n) * 10 * time.Second / time.Duration(p.baud)
}

// gone names a lost end: unplugged, back elsewhere, or hung up.
func (p *port) gone(err error) error {
	if p.closed.Load() {
		return os.ErrClosed
	}
	return fmt.Errorf("link: %s: %w (%w); %s", p.name, ErrGone, err, p.whereNow())
}

// whereNow says what has become of the port's name and, when it was named by its identity, of its
// device.
func (p *port) whereNow() string {
	const check = "check cable and supply"
	if p.path == "" {
		return check
	}
	_, err := os.Stat(p.path)
	missing := os.IsNotExist(err)
	if p.id != nil {
		if ports, err := p.list(); err == nil {
			if now, err := pick(ports, *p.id); err == nil && (missing || now.Name != p.path) {
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
	if p.own != nil {
		own = p.own.Close() // first: it ends a write that hangs
	}
	return errors.Join(p.under.Close(), own)
}
