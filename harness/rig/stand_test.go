package rig

import (
	"context"
	"testing"
	"time"

	"drystage/harness"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/gpio"
)

func TestStandLooksAtPins(t *testing.T) {
	r, h := opened(t)
	s := r.Stand(testBay())
	assert.EqualValues(t, 0b111, s.Loaded())
	assert.EqualValues(t, 0b011, s.Watched(), "the lamp has no pin")
	now, lit := s.Shows(t.Context(), 0, 0)
	assert.Zero(t, now|lit)

	require.NoError(t, s.Arming(true))
	late := make(chan struct{})
	go func() {
		defer close(late)
		time.Sleep(3 * time.Millisecond)
		h.pin("P2").EdgesChan <- gpio.Low // on
	}()
	now, lit = s.Shows(t.Context(), 0b010, 0)
	<-late
	assert.EqualValues(t, 0b010, now, "a pin may be late")
	assert.EqualValues(t, 0b010, lit)
	now, lit = s.Shows(t.Context(), 0b011, 0)
	assert.EqualValues(t, 0b010, now, "but not for ever")
	assert.Zero(t, lit)

	h.pin("P1").EdgesChan <- gpio.Low
	await := time.Now()
	for lit == 0 && time.Since(await) < 10*time.Second {
		_, more := s.Shows(t.Context(), 0b011, 0)
		lit |= more
	}
	h.pin("P2").EdgesChan <- gpio.High
	now, lit = s.Shows(t.Context(), 0b001, 0)
	assert.EqualValues(t, 0b001, now)
	assert.Zero(t, lit, "off is no light")
	now, _ = s.Shows(t.Context(), 0, 0)
	assert.EqualValues(t, 0b001, now, "an output that stays on is seen")
}

// pulseDrogue lets the drogue's pin show that it goes on, and off again.
func pulseDrogue(r *Rig, h *fakeHost) {
	monitor := r.monitorOf("sustainer", "drogue")
	time.Sleep(3 * time.Millisecond)
	for _, on := range []bool{true, false} {
		h.pin("P2").EdgesChan <- gpio.Level(!on) // active low
		for is := !on; is != on; time.Sleep(time.Millisecond) {
			is, _ = monitor.state()
		}
	}
}

// TestStandWaitsForAPulse is of an output that is on and off again between two looks: a monitor that gets no processor
// shows it later, and that must not look as if the output had come on by itself.
func TestStandWaitsForAPulse(t *testing.T) {
	r, h := opened(t)
	s := r.Stand(testBay())
	require.NoError(t, s.Arming(true))
	pulse := func() { pulseDrogue(r, h) }
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		pulse()
	}()
	now, lit := s.Shows(t.Context(), 0, 0b010)
	assert.EqualValues(t, 0b010, lit, "it is waited for")
	assert.Zero(t, now&^0b010, "and may just be ending")

	<-ended
	_, lit = s.Shows(t.Context(), 0, 0b010)
	assert.Zero(t, lit, "but not for ever")
	pulse()
	_, lit = s.Shows(t.Context(), 0, 0)
	assert.Zero(t, lit, "it was reported then, and comes late")
	pulse()
	_, lit = s.Shows(t.Context(), 0, 0)
	assert.EqualValues(t, 0b010, lit, "the next one was never reported")
}

func TestStandForgivesDarknessBehindAnOpenLoop(t *testing.T) {
	r, _ := opened(t)
	s := r.Stand(testBay())
	now, _ := s.Shows(t.Context(), 0b001, 0)
	assert.EqualValues(t, 0b001, now, "the loop is open: the output stage has no supply")
	require.NoError(t, s.Arming(true))
	now, _ = s.Shows(t.Context(), 0b001, 0)
	assert.Zero(t, now)
}

// TestStandRemembersWhatAnOpenLoopHides is of an output that is reported on, and then off, while the arming loop is open.
// Nobody waits for its pin, which may show it all the same, later: it was reported.
func TestStandRemembersWhatAnOpenLoopHides(t *testing.T) {
	r, h := opened(t)
	s := r.Stand(testBay())
	s.Shows(t.Context(), 0b010, 0b010)
	_, lit := s.Shows(t.Context(), 0, 0)
	assert.Zero(t, lit)
	pulseDrogue(r, h)
	_, lit = s.Shows(t.Context(), 0, 0)
	assert.Zero(t, lit, "it comes late")
	pulseDrogue(r, h)
	_, lit = s.Shows(t.Context(), 0, 0)
	assert.EqualValues(t, 0b010, lit, "the next one was never reported")
}

func TestStandSwitches(t *testing.T) {
	r, h := opened(t)
	s := r.Stand(testBay())
	h.told()
	assert.True(t, s.CanCut())
	require.NoError(t, r.Set(harness.DrivePower, "sustainer", true))
	require.NoError(t, s.Arming(true))
	require.NoError(t, s.Cut(t.Context()))
	require.NoError(t, s.Arming(false))
	assert.Equal(t, []string{"P5 Low", "P6 High", "P5 High", "P5 Low", "P6 Low"}, h.told(), "the supply is active low")

	ctx, stop := context.WithCancel(t.Context())
	stop()
	assert.ErrorIs(t, s.Cut(ctx), context.Canceled)
	assert.Equal(t, []string{"P5 High"}, h.told(), "an interrupted cut leaves it off")

	sims, err := Open(t.Context(), simulatedSpec(""), Options{})
	require.NoError(t, err)
	defer sims.Close()
	b := sims.Stand(testBay())
	assert.False(t, b.CanCut(), "a simulated switch cuts nothing")
	b.Told(1, true)
	require.NoError(t, b.Arming(true))
	now, lit := b.Shows(t.Context(), 0b001, 0)
	assert.EqualValues(t, 0b001, now)
	assert.EqualValues(t, 0b001, lit)
}
