package mock

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"drystage/harness/board/contract"
)

// TestAnyMessages sends valid frames with random content: the board answers, its numbers stay finite, and no output
// switches on while it isn't armed.
func TestAnyMessages(t *testing.T) {
	var flown []*bench // on the pad, armed, in coast before and after staging, at apogee, under the drogue
	for _, at := range []float64{0, 2.5, 6.47, 7, 18.85, 30} {
		b := newBench(t, "")
		b.set["drogue_backup"], b.set["main_backup"] = 17, 15
		flown = append(flown, b.run(at))
	}
	near := host{flown[2].g.Fork(), flown[2].enc}
	require.Contains(t, codes(near.say(near.tick(6_510_000))), contract.CodeOutput, "a flight that is about to stage is among them")
	rapid.Check(t, func(t *rapid.T) {
		b := rapid.SampledFrom(flown).Draw(t, "flown")
		g := b.g.Fork()
		h := host{g, b.enc}
		now := b.us()
		if b.t == 0 {
			g.Feed(h.hello(rapid.SampledFrom([]uint8{0, 1, 7}).Draw(t, "mode"), now), nil)
		}
		shadow := g.ram.out.on
		for range rapid.IntRange(1, 200).Draw(t, "messages") {
			now += rapid.SampledFrom([]uint32{0, 0, 1, 5000, 20000, 700_000, math.MaxUint32 - 5}).Draw(t, "later")
			in, reset := h.any(t, now)
			for _, f := range decode(g.Feed(in, nil)) {
				var m contract.Output
				if f.Code != contract.CodeOutput {
					continue
				}
				require.NoError(t, m.Decode(f.Payload))
				bit := uint16(1) << (m.Channel - 1)
				require.Equal(t, m.On == 1, shadow&bit == 0, "an edge changes something")
				require.True(t, m.On == 0 || g.mem.armed, "lit while unarmed")
				shadow ^= bit
			}
			if reset {
				shadow = 0
			}
			require.Equal(t, shadow, g.ram.out.on, "edges tell what is on")
			for _, v := range []float64{g.ram.est.h, g.ram.est.v, g.ram.est.b, g.ram.est.u, g.ram.att.up.norm(), g.mem.groundPressure, g.mem.maxHeight} {
				require.False(t, math.IsNaN(v) || math.IsInf(v, 0), "%+v", g.ram.est)
			}
		}
	})
}

// any makes one frame; reset says that the supply fails with it.
func (h *host) any(t *rapid.T, now uint32) (in []byte, reset bool) {
	i32 := rapid.OneOf(rapid.Int32(), rapid.SampledFrom([]int32{0, 9807, -9807, 60000, math.MaxInt32, math.MinInt32}))
	switch rapid.SampledFrom([]string{"imu", "imu", "imu", "baro", "baro", "gnss", "battery", "command", "setting", "tick", "tick", "sync", "hello", "restart", "bye"}).Draw(t, "kind") {
	case "imu":
		m := contract.IMU{Time: now, Has: rapid.Uint8().Draw(t, "has")}
		for _, p := range []*int32{&m.AccelX, &m.AccelY, &m.AccelZ, &m.GyroX, &m.GyroY, &m.GyroZ} {
			*p = i32.Draw(t, "axis")
		}
		return h.enc.IMU(nil, &m), false
	case "baro":
		p := rapid.OneOf(rapid.Uint32(), rapid.Uint32Range(95e6, 97e6)).Draw(t, "pressure")
		return h.enc.Baro(nil, &contract.Baro{Time: now, Pressure: p}), false
	case "gnss":
		return h.enc.GNSS(nil, &contract.GNSS{Time: now, Height: i32.Draw(t, "height"), Up: i32.Draw(t, "up"), Fix: 3}), false
	case "battery":
		return h.enc.Battery(nil, &contract.Battery{Time: now}), false
	case "command":
		return h.enc.Command(nil, &contract.Command{Time: now, Command: rapid.Uint8Range(0, 4).Draw(t, "command")}), false
	case "setting":
		var n [24]byte
		copy(n[:], rapid.SampledFrom(table[:]).Draw(t, "name").Name)
		return h.enc.Setting(nil, &contract.Setting{Name: n, Value: rapid.OneOf(i32, rapid.Int32Range(-3000, 16000)).Draw(t, "value")}), false
	case "tick":
		return h.tick(now), false
	case "sync":
		return h.enc.Sync(nil, &contract.Sync{Time: now}), false
	case "hello":
		return h.hello(uint8(now%2), now), false
	case "restart":
		return h.enc.Restart(nil, &contract.Restart{}), true
	}
	return h.enc.Bye(nil, &contract.Bye{}), false
}
