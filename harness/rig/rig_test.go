package rig

import (
	"context"
	"runtime"
	"testing"
	"time"

	"drystage/harness"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// P5, the supply, is active low: high is off.
var safeStory = []string{"P6 Low", "P5 High", "P7 High", "P8 Low", "P9 High"}

func TestDrivesAreSafeAtStartAndEnd(t *testing.T) {
	r, h := opened(t)
	assert.Equal(t, safeStory, h.told(), "the arming loop first, then the supply, the breakwire whole")
	require.NoError(t, r.Set(harness.DrivePower, "sustainer", true))
	require.NoError(t, r.Set(harness.DriveArming, "sustainer", true))
	require.NoError(t, r.Set(harness.DriveArming, "sustainer", true), "again changes nothing")
	require.NoError(t, r.Set(harness.DriveArming, "booster", true), "a board that the rig hasn't")
	assert.Equal(t, []string{"P5 Low", "P6 High"}, h.told())
	require.NoError(t, r.Close())
	assert.Equal(t, safeStory, h.told())
	require.NoError(t, r.Close())
	assert.ErrorIs(t, r.Set(harness.DrivePower, "sustainer", true), ErrSafe, "nothing is switched on after it")
}

func TestDrivesAreSafeWhenTheContextEnds(t *testing.T) {
	h := newFake()
	ctx, stop := context.WithCancel(t.Context())
	r, err := Open(ctx, spec(), Options{host: h})
	require.NoError(t, err)
	defer r.Close()
	require.NoError(t, r.Set(harness.DrivePower, "sustainer", true))
	h.told()
	stop()
	for began := time.Now(); ; time.Sleep(time.Millisecond) {
		require.Less(t, time.Since(began), 10*time.Second)
		if story := h.told(); len(story) > 0 {
			assert.Equal(t, "P6 Low", story[0])
			break
		}
	}
}

func TestDrivesAreSafeAfterAPanic(t *testing.T) {
	h := newFake()
	assert.Panics(t, func() {
		r, err := Open(t.Context(), spec(), Options{host: h})
		require.NoError(t, err)
		defer r.Close()
		require.NoError(t, r.Set(harness.DriveArming, "sustainer", true))
		h.told()
		panic("a bug")
	})
	assert.Equal(t, safeStory, h.told())
}

func TestAStuckPinKeepsNoOtherFromBeingSafe(t *testing.T) {
	r, h := opened(t)
	h.told()
	h.fail["P6"] = true
	err := r.Safe()
	assert.ErrorContains(t, err, "drive arm is NOT safe: pin trouble: P6 is stuck; cut the supply by hand")
	assert.Equal(t, safeStory[1:], h.told())
}

func TestOpenTakesAllOrNothing(t *testing.T) {
	h := newFake()
	h.fail["P7"] = true
	before := runtime.NumGoroutine()
	_, err := Open(t.Context(), spec(), Options{host: h})
	assert.ErrorIs(t, err, ErrPin)
	assert.Equal(t, []string{"P6 Low", "P5 High", "P6 Low", "P5 High"}, h.told(), "what was taken is made safe")
	assert.LessOrEqual(t, runtime.NumGoroutine(), before, "and nothing is left running")
}
