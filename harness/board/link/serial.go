package link

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"net/url"
	"os"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"go.bug.st/serial"
)

const (
	minBaud = 300
	maxBaud = 12_000_000
)

// serialAddress is what a serial: address says.
type serialAddress struct {
	name  string   // of the port; empty if the identity names it
	id    Identity // of usb=
	usb   bool
	baud  int
	reset string // "", "dtr" or "rts"
	boot  time.Duration
}

// openSerial opens PORT or usb=VID:PID[:SERIALNUMBER], with options behind a question mark: 8 data
// bits, no parity, one stop bit, no flow control.
func openSerial(ctx context.Context, rest string, opt Options) (Link, error) {
	wrong := func(err error) error { return fmt.Errorf("link: serial:%s: %w", rest, err) }
	l, err := parseSerial(rest, opt.Baud)
	if err != nil {
		return nil, wrong(err)
	}
	list := opt.Ports
	if list == nil {
		list = Ports
	}
	if err := l.find(list); err != nil {
		return nil, wrong(err)
	}
	p, err := openPort(l.name, l.baud, list)
	if err != nil {
		return nil, err
	}
	if l.usb {
		p.id = &l.id
	}
	if l.reset != "" {
		if err := p.reset(ctx, l.reset, l.boot); err != nil {
			p.Close()
			return nil, wrong(err)
		}
	}
	return p, nil
}

func parseSerial(rest string, baud int) (l serialAddress, err error) {
	name, query, _ := strings.Cut(rest, "?")
	if l.baud, l.boot = baud, DefaultBoot; baud == 0 {
		l.baud = DefaultBaud
	}
	if id, ok := strings.CutPrefix(name, "usb="); ok {
		l.usb = true
		if l.id, err = parseIdentity(id); err != nil {
			return l, err
		}
	} else {
		l.name = name
	}
	values, err := url.ParseQuery(query)
	if err != nil {
		return l, fmt.Errorf("can't read %q; write it as %s", query, formOf("serial"))
	}
	for _, o := range serialOptions {
		if text := values.Get(o.key); values.Has(o.key) {
			if err := o.set(&l, text); err != nil {
				return l, err
			}
			delete(values, o.key)
		}
	}
	for _, key := range slices.Sorted(maps.Keys(values)) {
		return l, fmt.Errorf("unknown option %q%s; the options are baud, reset and boot", key, hint(key, []string{"baud", "reset", "boot"}))
	}
	if l.baud < minBaud || l.baud > maxBaud {
		return l, fmt.Errorf("baud=%d is outside %d to %d", l.baud, minBaud, maxBaud)
	}
	return l, nil
}

var serialOptions = []struct {
	key string
	set func(l *serialAddress, text string) error
}{
	{"baud", func(l *serialAddress, text string) (err error) {
		if l.baud, err = strconv.Atoi(text); err != nil {
			return fmt.Errorf("baud=%s is not a whole number", text)
		}
		return nil
	}},
	{"reset", func(l *serialAddress, text string) error {
		if l.reset = text; text != "dtr" && text != "rts" {
			return fmt.Errorf("reset=%s is neither dtr nor rts", text)
		}
		return nil
	}},
	{"boot", func(l *serialAddress, text string) (err error) {
		if l.boot, err = time.ParseDuration(text); err != nil || l.boot < 0 || l.boot > time.Minute {
			return fmt.Errorf("boot=%s is not a span from 0s to 1m, such as 500ms", text)
		}
		return nil
	}},
}

// find turns a USB identity into the name that the port has now.
func (l *serialAddress) find(list func() ([]Port, error)) error {
	if !l.usb {
		return nil
	}
	if !HasIdentities {
		return fmt.Errorf("this build for %s can't tell USB identities; name the port by its path, `drystage ports` lists them", runtime.GOOS)
	}
	ports, err := list()
	if err != nil {
		return err
	}
	p, err := findByIdentity(ports, l.id)
	l.name = p.Name
	return err
}

// opening is held while a port is opened and while a program is started: no program may inherit a port that
// is not yet marked as ours.
var opening sync.Mutex

// openPort opens a port for this program alone and sees to it that it runs at the speed.
func openPort(name string, baud int, list func() ([]Port, error)) (*port, error) {
	own, err := lockPort(name)
	if err != nil {
		return nil, fmt.Errorf("link: serial:%s: %w", name, advised(err, name, list))
	}
	opening.Lock()
	under, err := serial.Open(name, &serial.Mode{BaudRate: baud, DataBits: 8})
	opening.Unlock()
	if err == nil {
		if err = own.checkSpeed(baud); err != nil {
			under.Close()
		}
	}
	if err != nil {
		own.Close()
		return nil, fmt.Errorf("link: serial:%s: %w", name, advised(err, name, list))
	}
	return &port{serial: under, locked: own, name: "serial:" + name, path: name, baud: baud, list: list}, nil
}

// errBusy says that another program has the port.
var errBusy = errors.New("busy: another program has it open, close that one first")

// advised adds to an error of opening what to do about it.
func advised(err error, name string, list func() ([]Port, error)) error {
	var pe *serial.PortError
	code := serial.FunctionNotImplemented
	if errors.As(err, &pe) {
		code = pe.Code()
	}
	var ports []Port
	if list != nil {
		ports, _ = list() // only for the advice
	}
	var path *fs.PathError
	if errors.As(err, &path) {
		err = path.Err // the name stands in front already
	}
	switch {
	case errors.Is(err, errBusy):
		return err
	case code == serial.PortBusy || isBusy(err):
		return errBusy
	case code == serial.PermissionDenied || errors.Is(err, os.ErrPermission):
		return fmt.Errorf("%w; %s", err, permission(name, ports))
	case code == serial.InvalidSerialPort:
		return fmt.Errorf("not a serial port, or one that refuses this speed: %w", err)
	}
	return fmt.Errorf("%w; %s", err, portList(ports))
}
