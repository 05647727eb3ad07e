package board_test

import (
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/boardtest"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/sim"
)

// A sample that is sent twice goes out as two equal frames before TICK. A board whose clock is wrong gets the times
// of that clock, while its edges and reports have the run's time.
func TestTwiceAndSkew(t *testing.T) {
	r := &recorder{Link: memory(boardtest.None)}
	c := client(r)
	var reply harness.Reply
	f := boardtest.Frame(50)
	f.Due, f.Powered, f.Now, f.Skew = true, true, sim.Second, 30*sim.Millisecond
	f.Has, f.Twice = sim.HasAccel|sim.HasGyro|sim.HasBaro, sim.HasBaro|sim.HasGyro|sim.HasBattery
	require.NoError(t, c.Exchange(t.Context(), f, &reply))
	d, in := contract.NewDecoder(contract.FromHost), r.sent
	var codes []contract.Code
	for {
		m, rest, ok := d.Next(in)
		if in = rest; !ok {
			break
		}
		codes = append(codes, m.Code)
		switch m.Code {
		case contract.CodeHello, contract.CodeSetting:
			continue
		case contract.CodeIMU:
			var x contract.IMU
			require.NoError(t, x.Decode(m.Payload))
			if len(codes) > 4 {
				assert.EqualValues(t, contract.FreshGyro, x.Has, "the second time, the gyro alone")
				assert.Zero(t, x.AccelX)
			}
		}
		assert.Equal(t, uint32(1_030_000), uint32(m.Payload[0])|uint32(m.Payload[1])<<8|uint32(m.Payload[2])<<16, "the board's clock in %s", m.Code)
	}
	assert.Equal(t, []contract.Code{contract.CodeHello, contract.CodeSetting, contract.CodeIMU, contract.CodeBaro, contract.CodeIMU, contract.CodeBaro, contract.CodeTick}, codes)
	for _, x := range reply.Reports {
		assert.Equal(t, sim.Second, x.At)
	}
}

// In real time a board's clock is its own: a plan with a fault of the clock is refused, not ignored.
func TestClockFaultNeedsLockstep(t *testing.T) {
	y := &tally{dec: contract.NewDecoder(contract.FromHost), can: contract.CanRealTime}
	now := sim.Time(0)
	b := board.NewRealTime(link.Memory(y), harness.Board{Role: "sustainer"}, boardtest.Bay(), board.Options{}, func() sim.Time { return now })
	var err error
	var reply harness.Reply
	for k := 0; err == nil && k < 10_000; k++ {
		now += sim.Millisecond
		f := sim.Frame{Now: now, Due: true, Powered: true, Skew: 1}
		reply.Reset()
		err = b.Exchange(t.Context(), &f, &reply)
		runtime.Gosched()
	}
	require.ErrorIs(t, err, board.ErrUnable)
	assert.ErrorContains(t, err, "needs lockstep")
	require.NoError(t, b.Close())
}
