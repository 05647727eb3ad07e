package rig

import (
	"fmt"
	"sync"
	"testing"
	"time"

	"drystage/harness"
	"drystage/sim"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/gpio/gpiotest"
)

// fakeHost gives periph's test pins, and remembers what was driven.
type fakeHost struct {
	pins  map[string]*gpiotest.Pin
	mu    sync.Mutex
	story []string // "GPIO5 high", in order
	fail  map[string]bool
	moved func(name string, level bool) // what hangs on the drives; nil: nothing
}

func newFake() *fakeHost { return &fakeHost{pins: map[string]*gpiotest.Pin{}, fail: map[string]bool{}} }

func (h *fakeHost) pin(name string) *gpiotest.Pin {
	if h.pins[name] == nil {
		h.pins[name] = &gpiotest.Pin{N: name, EdgesChan: make(chan gpio.Level, queueSize)}
	}
	return h.pins[name]
}

func (h *fakeHost) input(p harness.Pin) (input, error) { return watchPin(h.pin(p.Name), p.Pull) }

func (h *fakeHost) output(name string, level bool) (output, error) {
	o := fakeOutput{h, periphOutput{h.pin(name)}}
	return o, o.set(level)
}

func (h *fakeHost) close() error { return nil }

func (h *fakeHost) told() []string {
	h.mu.Lock()
	defer h.mu.Unlock()
	s := h.story
	h.story = nil
	return s
}

type fakeOutput struct {
	h *fakeHost
	periphOutput
}

func (o fakeOutput) set(level bool) error {
	o.h.mu.Lock()
	defer o.h.mu.Unlock()
	if o.h.fail[o.Name()] {
		return fmt.Errorf("%w: %s is stuck", ErrPin, o.Name())
	}
	o.h.story = append(o.h.story, fmt.Sprint(o.Name(), " ", gpio.Level(level)))
	if o.h.moved != nil {
		o.h.moved(o.Name(), level)
	}
	return o.periphOutput.set(level)
}

// spec is a rig with two outputs that have pins, one that has none, and a drive of every kind.
func spec() harness.Rig {
	load := harness.Load{Kind: "resistor", Ohm: 10, Tolerance: 0.2}
	eye := func(name string) harness.Pin {
		return harness.Pin{Name: name, ActiveLow: true, Pull: harness.PullUp, Debounce: 2 * sim.Millisecond}
	}
	drive := func(does harness.DriveKind, label, pin string, low, safe bool) harness.Drive {
		return harness.Drive{Pin: harness.Pin{Name: pin, ActiveLow: low}, Label: label, Does: does, Role: "sustainer", SafeOn: safe}
	}
	loop := drive(harness.DriveLoopback, "probe", "P9", true, false)
	loop.Output = "ignite"
	return harness.Rig{Name: "test", Default: 5 * sim.Millisecond, Boards: []harness.RigBoard{{Role: "sustainer", Outputs: []harness.RigOutput{
		{Name: "ignite", Load: load, Capture: eye("P1")}, {Name: "drogue", Load: load, Capture: eye("P2")}, {Name: "lamp", Load: load},
	}}}, Drives: []harness.Drive{
		drive(harness.DriveReset, "hold", "P8", false, false), drive(harness.DrivePower, "supply", "P5", true, false),
		drive(harness.DriveArming, "arm", "P6", false, false), drive(harness.DriveSeparation, "wire", "P7", false, true), loop,
	}}
}

// opened opens the test rig on periph's test pins.
func opened(t *testing.T) (*Rig, *fakeHost) {
	h := newFake()
	r, err := Open(t.Context(), spec(), Options{host: h})
	require.NoError(t, err)
	t.Cleanup(func() { r.Close() })
	return r, h
}

// await gathers edges until there are n.
func await(t *testing.T, r *Rig, n int) []PinEdge {
	var got []PinEdge
	for began := time.Now(); len(got) < n; time.Sleep(time.Millisecond) {
		require.Less(t, time.Since(began), 10*time.Second, "%d of %d edges", len(got), n)
		got = append(got, r.TakeEdges("sustainer")...)
	}
	return got
}

func TestAnOutputThatBouncesIsOneEdge(t *testing.T) {
	s, h := spec(), newFake()
	s.Boards[0].Outputs[0].Capture.Debounce = 50 * sim.Millisecond // a busy machine bounces slowly
	r, err := Open(t.Context(), s, Options{host: h})
	require.NoError(t, err)
	defer r.Close()
	began := time.Now()
	for i := range 11 { // 5 ms of bouncing, ending low: on
		h.pin("P1").EdgesChan <- gpio.Level(i%2 == 1)
		time.Sleep(500 * time.Microsecond)
	}
	got := await(t, r, 1)
	assert.Equal(t, "ignite", got[0].Output)
	assert.True(t, got[0].On, "low is on")
	assert.Less(t, got[0].At.Sub(began), 40*time.Millisecond, "from the first touch, not from when it stood")
	time.Sleep(60 * time.Millisecond)
	assert.Empty(t, r.TakeEdges("sustainer"), "one edge, no more")
}

func TestPulseLength(t *testing.T) {
	r, h := opened(t)
	began := time.Now()
	h.pin("P2").EdgesChan <- gpio.Low
	time.Sleep(20 * time.Millisecond)
	h.pin("P2").EdgesChan <- gpio.High
	length := time.Since(began)
	got := await(t, r, 2)
	assert.Equal(t, []bool{true, false}, []bool{got[0].On, got[1].On})
	assert.InDelta(t, length.Seconds(), got[1].At.Sub(got[0].At).Seconds(), 0.015, "on a busy machine too")
}

// Here stamps are of the wake-up, which the machine's load delays, so that single pairs may come out
// the wrong way round: the rig's uncertainty covers that, and an order within it is unsure. The
// kernel's own stamps have no such doubt (see kernel_linux_test.go).
func TestOrderOfOutputs100MicrosecondsApart(t *testing.T) {
	r, h := opened(t)
	const pairs = 40
	right := 0
	for i := range pairs {
		level := gpio.Level(i%2 == 1)
		h.pin("P1").EdgesChan <- level
		time.Sleep(100 * time.Microsecond)
		h.pin("P2").EdgesChan <- level
		got := await(t, r, 2)
		require.Len(t, got, 2)
		if got[0].Output == "ignite" {
			right++
		}
	}
	t.Logf("%d of %d pairs in order", right, pairs)
	assert.Greater(t, right, pairs/2)
}

// deaf is a pin whose edges are lost: only its level shows them.
type deaf struct {
	mu    sync.Mutex
	level bool
}

func (d *deaf) read() bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.level
}

func (d *deaf) wait(timeout time.Duration) (levelChange, bool) {
	time.Sleep(timeout)
	return levelChange{}, false
}

func (d *deaf) close() error { return nil }

func TestALostEdgeIsFoundByTheLevel(t *testing.T) {
	d := &deaf{level: true}
	e := startMonitor(d, "sustainer", spec().Boards[0].Outputs[0])
	defer e.close()
	d.mu.Lock()
	d.level = false
	d.mu.Unlock()
	assert.True(t, e.waitFor(t.Context(), true, 10*time.Second))
	got := e.takeEdges()
	require.Len(t, got, 1)
	assert.Positive(t, got[0].Slack, "and says that it is late")
	r := &Rig{monitors: []*pinMonitor{e}}
	_, missed := r.PinErrors()
	assert.Equal(t, 1, missed)
}

// sleepy is a pin that a busy computer reads late: long after the output has moved.
type sleepy struct{ deaf }

func (s *sleepy) wait(time.Duration) (levelChange, bool) {
	time.Sleep(200 * time.Millisecond)
	return levelChange{}, false
}

func TestABusyComputerMakesNoFalseNo(t *testing.T) {
	s := &sleepy{deaf{level: true}}
	e := startMonitor(s, "sustainer", spec().Boards[0].Outputs[0])
	defer e.close()
	s.mu.Lock()
	s.level = false
	s.mu.Unlock()
	assert.True(t, e.waitFor(t.Context(), true, time.Millisecond), "the wait is over long before the pin is looked at")
	assert.False(t, e.waitFor(t.Context(), false, time.Millisecond))
}

// Drivers don't agree on a time-out of zero or less: one waits for ever, the other returns at once.
// A wait is never given one.
type strict struct {
	gpiotest.Pin
	t *testing.T
}

func (s *strict) WaitForEdge(timeout time.Duration) bool {
	assert.Positive(s.t, timeout)
	return s.Pin.WaitForEdge(timeout)
}

func TestTimeOutsAreAboveZero(t *testing.T) {
	p := &strict{Pin: gpiotest.Pin{N: "X", EdgesChan: make(chan gpio.Level, 1)}, t: t}
	in, err := watchPin(p, harness.PullUp)
	require.NoError(t, err)
	for _, timeout := range []time.Duration{-1, 0, time.Microsecond} {
		_, ok := in.wait(timeout)
		assert.False(t, ok)
	}
}
