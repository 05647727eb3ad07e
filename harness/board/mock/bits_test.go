package mock

import (
	"hash/crc32"
	"testing"

	"github.com/stretchr/testify/assert"

	"drystage/harness/board/contract"
)

// TestSameBitsEverywhere feeds a flight made of whole numbers and compares all answers with a
// checksum found on amd64; on arm64 run it with GOARCH=arm64 go test -exec qemu-aarch64-static.
// A change of the board's logic changes the checksum; a change of the processor must not.
func TestSameBitsEverywhere(t *testing.T) {
	h := newHost(t)
	in := h.hello(0, 0)
	in = append(in, h.enc.Command(nil, &contract.Command{Command: contract.Arm})...)
	sum, logs := uint32(0), 0
	height, speed := int64(0), int64(0) // mm, mm/s
	noise := uint32(1)
	for k := range uint32(6000) {
		noise = noise*1664525 + 1013904223
		accel := int64(9807)
		switch {
		case k > 1000 && k < 1400:
			accel = 70_000
		case k >= 1400 && height > 0:
			accel = -4000
		}
		speed += (accel - 9807) / 200
		height += speed / 200
		if k == 4000 {
			speed = -12_000
		}
		r := int32(noise>>20) - 2048
		in = h.enc.IMU(in, &contract.IMU{Time: k * 5000, Has: 3, AccelX: int32(accel) + r/40, AccelY: r / 50, AccelZ: 300 - r/60, GyroX: r / 3, GyroY: 900 - r, GyroZ: r / 2})
		if k%4 == 0 {
			in = h.enc.Baro(in, &contract.Baro{Time: k * 5000, Pressure: uint32(96_000_000 - height*11 + int64(r))})
		}
		in = h.enc.Tick(in, &contract.Tick{Time: k * 5000})
		out := h.g.Feed(in, nil)
		sum = crc32.Update(sum, crc32.IEEETable, out)
		for _, f := range decode(out) {
			if f.Code == contract.CodeLog {
				logs++
			}
		}
		in = in[:0]
	}
	assert.Greater(t, logs, 3, "liftoff, burnout and apogee are in it")
	assert.Equal(t, uint32(0x4dc45f06), sum)
}
