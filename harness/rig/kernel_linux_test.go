package rig

import (
	"encoding/binary"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unsafe"

	"drystage/harness"
	"drystage/sim"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// The kernel's own header says how large its structures are, where their fields lie, and what its
// calls are numbered.
func TestKernelLayout(t *testing.T) {
	gcc, err := exec.LookPath("gcc")
	if err != nil {
		require.NotEqual(t, "all", os.Getenv("DRYSTAGE_TOOLS"), "gcc is missing; make tools")
		t.Skip("no gcc")
	}
	const program = `#include <linux/gpio.h>
#include <stddef.h>
#include <stdio.h>
#define P(x) printf("%lu ", (unsigned long)(x))
#define R struct gpio_v2_line_request
int main(void) {
	P(sizeof(R)); P(offsetof(R, consumer)); P(offsetof(R, config.flags)); P(offsetof(R, config.num_attrs));
	P(offsetof(R, config.attrs)); P(offsetof(R, config.attrs[0].attr.values)); P(offsetof(R, config.attrs[0].mask));
	P(sizeof(struct gpio_v2_line_config_attribute)); P(offsetof(R, num_lines)); P(offsetof(R, event_buffer_size)); P(offsetof(R, fd));
	P(sizeof(struct gpio_v2_line_values)); P(offsetof(struct gpio_v2_line_values, mask)); P(sizeof(struct gpio_v2_line_event));
	P(offsetof(struct gpio_v2_line_event, timestamp_ns));
	P(GPIO_V2_GET_LINE_IOCTL); P(GPIO_V2_LINE_GET_VALUES_IOCTL); P(GPIO_V2_LINE_SET_VALUES_IOCTL);
	P(GPIO_V2_LINE_FLAG_INPUT); P(GPIO_V2_LINE_FLAG_OUTPUT); P(GPIO_V2_LINE_FLAG_EDGE_RISING); P(GPIO_V2_LINE_FLAG_EDGE_FALLING);
	P(GPIO_V2_LINE_FLAG_BIAS_PULL_UP); P(GPIO_V2_LINE_FLAG_BIAS_PULL_DOWN); P(GPIO_V2_LINE_FLAG_BIAS_DISABLED);
	P(GPIO_V2_LINE_ATTR_ID_OUTPUT_VALUES);
	return 0;
}
`
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "layout.c"), []byte(program), 0o644))
	b, err := exec.Command(gcc, "-o", filepath.Join(dir, "layout"), filepath.Join(dir, "layout.c")).CombinedOutput()
	require.NoError(t, err, "%s", b)
	want, err := exec.Command(filepath.Join(dir, "layout")).Output()
	require.NoError(t, err)
	var r lineRequest
	var v lineValues
	a := unsafe.Offsetof(r.attr)
	ours := []uint64{
		uint64(unsafe.Sizeof(r)), uint64(unsafe.Offsetof(r.consumer)), uint64(unsafe.Offsetof(r.flags)), uint64(unsafe.Offsetof(r.attrs)),
		uint64(a), uint64(a + unsafe.Offsetof(r.attr[0].value)), uint64(a + unsafe.Offsetof(r.attr[0].mask)),
		uint64(unsafe.Sizeof(r.attr[0])), uint64(unsafe.Offsetof(r.lines)), uint64(unsafe.Offsetof(r.buffer)), uint64(unsafe.Offsetof(r.fd)),
		uint64(unsafe.Sizeof(v)), uint64(unsafe.Offsetof(v.mask)), eventSize, 0,
		getLine, getValues, setValues, flagInput, flagOutput, flagRising, flagFalling, flagPullUp, flagPullDown, flagNoPull, attrValues,
	}
	assert.Equal(t, strings.TrimSpace(string(want)), strings.Trim(fmt.Sprint(ours), "[]"))
}

// edgeOf is an edge as the kernel writes it.
func edgeOf(at uint64, id uint32) []byte {
	b := make([]byte, eventSize)
	binary.NativeEndian.PutUint64(b, at)
	binary.NativeEndian.PutUint32(b[8:], id)
	return b
}

func kernelNow(t *testing.T) uint64 {
	mono, err := monotonic()
	require.NoError(t, err)
	return mono
}

// A thread that has to wait between its readings of the two clocks, or in all of them, takes the closest.
func TestClocksAreReadAtOneMoment(t *testing.T) {
	start := time.Unix(1000, 0)
	for _, c := range []struct {
		reason string
		waits  []time.Duration // before each reading of the kernel's clock or Go's
		wrong  time.Duration
	}{
		{"never", []time.Duration{0, 1000, 1000}, 0},
		{"after Go's, once", []time.Duration{0, 1000, 600_000, 0, 1000, 1000}, 0},
		{"before Go's, twice", []time.Duration{0, 600_000, 1000, 0, 300_000, 1000, 0, 1000, 1000}, 0},
		{"always", []time.Duration{0, 20_000, 20_000}, 0},
		{"always, unevenly", []time.Duration{0, 20_000, 0}, 10_000},
	} {
		var at time.Duration
		i := 0
		wait := func() {
			at += c.waits[i%len(c.waits)]
			i++
		}
		now, mono, err := clocks(
			func() time.Time { wait(); return start.Add(at) },
			func() (uint64, error) { wait(); return uint64(5*time.Second + at), nil })
		require.NoError(t, err)
		assert.LessOrEqual(t, (now.Sub(start) - (time.Duration(mono) - 5*time.Second)).Abs(), c.wrong, c.reason)
	}
	_, _, err := clocks(time.Now, func() (uint64, error) { return 0, unix.EPERM })
	require.ErrorIs(t, err, unix.EPERM)
}

// pipedLine is a line whose events come from the test.
func pipedLine(t *testing.T) (*kernelLine, *os.File) {
	r, w, err := os.Pipe()
	require.NoError(t, err)
	t.Cleanup(func() { r.Close(); w.Close() })
	return &kernelLine{"X", r}, w
}

// With the kernel's stamps two outputs 100 us apart keep their order, even if the events are read late
// and the wrong way round.
func TestKernelStampsKeepTheOrder(t *testing.T) {
	one, w1 := pipedLine(t)
	two, w2 := pipedLine(t)
	for range 50 {
		first := kernelNow(t)
		_, err := w2.Write(edgeOf(first+100_000, 2))
		require.NoError(t, err)
		at2, ok := two.wait(time.Second)
		require.True(t, ok)
		_, err = w1.Write(edgeOf(first, 1))
		require.NoError(t, err)
		at1, ok := one.wait(time.Second)
		require.True(t, ok)
		assert.Less(t, at1.at, at2.at, "the one that was read last was first")
		assert.InDelta(t, 100, float64(at2.at.Sub(at1.at))/float64(time.Microsecond), 90, "but for what lies between two readings of two clocks")
	}
}

// Edges that were queued while the computer was busy count by their own times: a bouncing pulse of
// 20 ms, read long afterwards in one go, is two edges.
func TestQueuedEdgesKeepTheirTimes(t *testing.T) {
	l, w := pipedLine(t)
	const ms = 1_000_000
	first := kernelNow(t) - 500*ms
	var b []byte
	for i, at := range []uint64{0, ms / 2, ms, 20 * ms, 20*ms + ms/2, 21 * ms} {
		b = append(b, edgeOf(first+at, []uint32{2, 1}[i%2])...) // on: low high low; off: high low high
	}
	_, err := w.Write(b)
	require.NoError(t, err)
	e := startMonitor(high{l}, "sustainer", spec().Boards[0].Outputs[0])
	defer e.close()
	var got []PinEdge
	for began := time.Now(); len(got) < 2; time.Sleep(time.Millisecond) {
		require.Less(t, time.Since(began), 10*time.Second)
		got = append(got, e.takeEdges()...)
	}
	assert.Equal(t, []bool{true, false}, []bool{got[0].On, got[1].On})
	assert.Zero(t, got[1].Slack, "none was missed")
	assert.InDelta(t, 20, float64(got[1].At.Sub(got[0].At))/float64(time.Millisecond), 1)
}

// high is a line whose level stands high by now.
type high struct{ *kernelLine }

func (high) read() bool { return true }

func TestKernelLineWaits(t *testing.T) {
	l, w := pipedLine(t)
	_, ok := l.wait(0)
	assert.False(t, ok, "nothing there, and no wait without an end")
	_, err := w.Write(edgeOf(kernelNow(t), 1)[:20])
	require.NoError(t, err)
	_, ok = l.wait(time.Second)
	assert.False(t, ok, "half an event is none")
	require.NoError(t, l.close())
	_, ok = l.wait(time.Second)
	assert.False(t, ok)
	assert.Error(t, l.set(true), "a closed line is not driven in silence")

	_, ok, err = kernelInput(harness.Pin{Name: "NO-SUCH-PIN", Debounce: sim.Millisecond})
	assert.False(t, ok, "left to periph")
	assert.NoError(t, err)
	_, ok, err = kernelOutput("NO-SUCH-PIN", true)
	assert.False(t, ok)
	assert.NoError(t, err)
}
