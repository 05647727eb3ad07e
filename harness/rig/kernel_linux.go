package rig

import (
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"time"
	"unsafe"

	"drystage/harness"
	"golang.org/x/sys/unix"
	"periph.io/x/host/v3/gpioioctl"
)

// The kernel's GPIO interface, version 2, as far as it is needed: linux/gpio.h and
// docs.kernel.org/userspace-api/gpio. It is used beside periph for two things that periph does not give:
// the kernel's own time of an edge, and an output that has its level from its first moment (periph
// takes a line as an output at low first, which would switch an active-low load on for an instant).
const (
	flagInput    = 1 << 2
	flagOutput   = 1 << 3
	flagRising   = 1 << 4
	flagFalling  = 1 << 5
	flagPullUp   = 1 << 8
	flagPullDown = 1 << 9
	flagNoPull   = 1 << 10

	attrValues = 2

	getLine   = 0xC250B407 // _IOWR(0xB4, 0x07, struct gpio_v2_line_request)
	getValues = 0xC010B40E // _IOWR(0xB4, 0x0E, struct gpio_v2_line_values)
	setValues = 0xC010B40F // _IOWR(0xB4, 0x0F, struct gpio_v2_line_values)

	eventSize   = 48
	eventRising = 1
)

type lineAttribute struct {
	id, _ uint32
	value uint64
	mask  uint64
}

type lineRequest struct {
	offsets  [64]uint32
	consumer [32]byte
	flags    uint64
	attrs    uint32
	_        [5]uint32
	attr     [10]lineAttribute
	lines    uint32
	buffer   uint32
	_        [5]uint32
	fd       int32
}

type lineValues struct{ bits, mask uint64 }

// kernelLine is a pin taken from the kernel.
type kernelLine struct {
	name string
	f    *os.File
}

// findLine finds the chip of a pin, and its number there.
func findLine(name string) (chip string, number uint32, ok bool) {
	for _, c := range gpioioctl.Chips {
		if l := c.ByName(name); l != nil {
			return c.Path(), uint32(l.Number()), true
		}
	}
	return "", 0, false
}

// kernelInput takes a pin as an input; ok is false if the kernel's interface does not have it.
func kernelInput(p harness.Pin) (l *kernelLine, ok bool, err error) {
	pull := map[harness.Pull]uint64{harness.PullNone: flagNoPull, harness.PullUp: flagPullUp, harness.PullDown: flagPullDown}[p.Pull]
	return takeLine(p.Name, lineRequest{flags: flagInput | flagRising | flagFalling | pull})
}

// kernelOutput takes a pin as an output at a level.
func kernelOutput(name string, level bool) (l *kernelLine, ok bool, err error) {
	r := lineRequest{flags: flagOutput, attrs: 1}
	r.attr[0] = lineAttribute{id: attrValues, value: bit(level), mask: 1}
	return takeLine(name, r)
}

func bit(level bool) uint64 {
	if level {
		return 1
	}
	return 0
}

func takeLine(name string, r lineRequest) (l *kernelLine, ok bool, err error) {
	chip, number, ok := findLine(name)
	if !ok {
		return nil, false, nil
	}
	fd, err := unix.Open(chip, unix.O_RDONLY|unix.O_CLOEXEC, 0)
	if err != nil {
		return nil, true, fmt.Errorf("%w: %s of %s: %w; may you use it? Join the group that owns it, often gpio", ErrPin, name, chip, err)
	}
	defer unix.Close(fd)
	r.offsets[0], r.lines = number, 1
	copy(r.consumer[:], "drystage")
	if err := ioctl(fd, getLine, unsafe.Pointer(&r)); err != nil {
		return nil, true, fmt.Errorf("%w: %s of %s: %w; does another program hold it?", ErrPin, name, chip, err)
	}
	if err := unix.SetNonblock(int(r.fd), true); err != nil {
		unix.Close(int(r.fd))
		return nil, true, fmt.Errorf("%w: %s: %w", ErrPin, name, err)
	}
	return &kernelLine{name, os.NewFile(uintptr(r.fd), name)}, true, nil
}

func ioctl(fd int, request uintptr, arg unsafe.Pointer) error {
	if _, _, errno := unix.Syscall(unix.SYS_IOCTL, uintptr(fd), request, uintptr(arg)); errno != 0 {
		return errno
	}
	return nil
}

// control makes an ioctl on the line's descriptor, and keeps that non-blocking.
func (l *kernelLine) control(request uintptr, v *lineValues) error {
	raw, err := l.f.SyscallConn()
	if err != nil {
		return err
	}
	var inner error
	if err := raw.Control(func(fd uintptr) { inner = ioctl(int(fd), request, unsafe.Pointer(v)) }); err != nil {
		return err
	}
	return inner
}

func (l *kernelLine) set(level bool) error {
	if err := l.control(setValues, &lineValues{bit(level), 1}); err != nil {
		return fmt.Errorf("%w: %s: %w", ErrPin, l.name, err)
	}
	return nil
}

func (l *kernelLine) read() bool {
	v := lineValues{mask: 1}
	_ = l.control(getValues, &v) // a pin that was taken can be read
	return v.bits&1 != 0
}

// wait gives the next edge with the kernel's time: CLOCK_MONOTONIC, taken in the interrupt.
func (l *kernelLine) wait(timeout time.Duration) (levelChange, bool) {
	var event [eventSize]byte
	_ = l.f.SetReadDeadline(time.Now().Add(max(timeout, shortestWait)))
	n, err := l.f.Read(event[:])
	if err != nil || n != eventSize {
		return levelChange{}, false
	}
	now, mono, err := clocks(time.Now, monotonic)
	if err != nil {
		return levelChange{}, false
	}
	age := time.Duration(mono - binary.NativeEndian.Uint64(event[:]))
	return levelChange{now.Add(-age), binary.NativeEndian.Uint32(event[8:]) == eventRising}, true
}

func monotonic() (uint64, error) {
	var t unix.Timespec
	err := unix.ClockGettime(unix.CLOCK_MONOTONIC, &t)
	return uint64(t.Nano()), err
}

// clocks reads Go's clock and the kernel's at one moment. The kernel's is read before and after: if the thread had to
// wait in between, which takes a busy computer a millisecond, the two differ by as much, so the closest of some readings counts.
func clocks(wall func() time.Time, kernel func() (uint64, error)) (now time.Time, mono uint64, err error) {
	const near, readings = uint64(5 * time.Microsecond), 20
	least := uint64(math.MaxUint64)
	for i := 0; i < readings && least > near; i++ {
		before, err := kernel()
		if err != nil {
			return now, mono, err
		}
		at := wall()
		after, err := kernel()
		if err != nil {
			return now, mono, err
		}
		if after-before < least {
			now, mono, least = at, before+(after-before)/2, after-before
		}
	}
	return now, mono, nil
}

func (l *kernelLine) close() error { return l.f.Close() }
