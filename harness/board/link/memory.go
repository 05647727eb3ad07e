package link

import (
	"os"
	"time"
)

// Device is a board in this process: it takes bytes and appends its answer to out.
type Device interface {
	Feed(in, out []byte) []byte
}

// Memory makes a link to a device in this process. Write feeds the device and Read gives what it
// answered; with nothing pending, Read is late at once. There is no goroutine and no clock.
func Memory(g Device) Link { return &memory{device: g} }

type memory struct {
	device Device
	out    []byte
	read   int // bytes of out that have been read
	closed bool
}

func (m *memory) Write(b []byte) (int, error) {
	if m.closed {
		return 0, os.ErrClosed
	}
	if m.read == len(m.out) {
		m.out, m.read = m.out[:0], 0
	}
	m.out = m.device.Feed(b, m.out)
	return len(b), nil
}

func (m *memory) Read(b []byte) (int, error) {
	if m.closed {
		return 0, os.ErrClosed
	}
	if m.read == len(m.out) {
		return 0, os.ErrDeadlineExceeded
	}
	n := copy(b, m.out[m.read:])
	m.read += n
	return n, nil
}

func (m *memory) SetReadDeadline(time.Time) error { return nil }

func (m *memory) Close() error {
	m.closed = true
	return nil
}

// DeviceOf gives the device at the other end of a link of Memory.
func DeviceOf(l Link) (g Device, ok bool) {
	m, ok := l.(*memory)
	if !ok {
		return nil, false
	}
	return m.device, true
}

// Instant is true: see the function of this name.
func (m *memory) Instant() bool { return true }
