package link

import (
	"errors"
	"fmt"
	"net/url"
	"os"
	"strconv"
	"strings"
	"sync/atomic"
	"time"

	"go.bug.st/serial"
)

const (
	minBaud = 300
	maxBaud = 12_000_000
	// maxEmpty is how many reads in a row may give nothing before their time: go.bug.st/serial
	// reports some hang-ups that way.
	maxEmpty = 8
)

// openSerial opens PORT or PORT?baud=N, 8 data bits, no parity, one stop bit.
func openSerial(rest string, opt Options) (Link, error) {
	name, query, _ := strings.Cut(rest, "?")
	if opt.Baud == 0 {
		opt.Baud = DefaultBaud
	}
	baud, err := baudOf(query, opt.Baud)
	if err != nil {
		return nil, fmt.Errorf("link: serial:%s: %w", rest, err)
	}
	return openPort(name, baud)
}

func baudOf(query string, baud int) (int, error) {
	values, err := url.ParseQuery(query)
	if err != nil {
		return 0, fmt.Errorf("can't read %q; write it as %s", query, form("serial"))
	}
	for key := range values {
		if key != "baud" {
			return 0, fmt.Errorf("unknown option %q%s; the only one is baud", key, near(key, []string{"baud"}))
		}
	}
	if text := values.Get("baud"); values.Has("baud") {
		if baud, err = strconv.Atoi(text); err != nil {
			return 0, fmt.Errorf("baud=%s is not a whole number", text)
		}
	}
	if baud < minBaud || baud > maxBaud {
		return 0, fmt.Errorf("baud=%d is outside %d to %d", baud, minBaud, maxBaud)
	}
	return baud, nil
}

func openPort(name string, baud int) (*port, error) {
	p, err := serial.Open(name, &serial.Mode{BaudRate: baud, DataBits: 8})
	if err != nil {
		return nil, fmt.Errorf("link: serial:%s: %w%s", name, err, advice(err))
	}
	return &port{under: p, name: "serial:" + name}, nil
}

// advice says what to do about a port that does not open.
func advice(err error) string {
	var pe *serial.PortError
	switch {
	case errors.As(err, &pe) && pe.Code() == serial.PermissionDenied:
		return "; may you use it? On Linux, join the group that owns the port, often dialout"
	case errors.As(err, &pe) && pe.Code() == serial.PortBusy:
		return "; another program has it open, close that one first"
	}
	ports, lerr := serial.GetPortsList()
	if lerr != nil || len(ports) == 0 {
		return "; this machine shows no serial port, check the cable"
	}
	return "; ports of this machine: " + strings.Join(ports, ", ")
}

// pipe is what port needs of a serial port.
type pipe interface {
	Read(b []byte) (int, error)
	Write(b []byte) (int, error)
	Close() error
	SetReadTimeout(d time.Duration) error
}

// port makes a Link of go.bug.st/serial, whose Read gives (0, nil) when it is late and whose Write
// may send a part.
type port struct {
	under    pipe
	name     string
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
	for sent := 0; sent < len(b); {
		if p.closed.Load() {
			return sent, os.ErrClosed
		}
		n, err := p.under.Write(b[sent:])
		if sent += n; err == nil && n == 0 {
			err = errors.New("it takes nothing")
		}
		if err != nil {
			return sent, p.gone(err)
		}
	}
	return len(b), nil
}

func (p *port) gone(err error) error {
	if p.closed.Load() {
		return os.ErrClosed
	}
	return fmt.Errorf("link: %s: %w (%w); check cable and supply", p.name, ErrGone, err)
}

func (p *port) Close() error {
	if p.closed.Swap(true) {
		return nil
	}
	return p.under.Close()
}
