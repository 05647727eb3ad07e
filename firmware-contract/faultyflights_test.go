//go:build linux || darwin

package firmwarecontract

import (
	"fmt"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/harness/board/mock"
	"drystage/harness/run/benchtest"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// disturbance changes the host's messages in a flight: samples in one window of time, and other messages in between.
type disturbance struct {
	rng      *rand.Rand
	enc      contract.Encoder
	out      []byte
	kind     int
	from, to uint32 // us
	held     contract.Baro
	size     int32
	preface  [][]byte // HELLO and SETTINGs, to shake hands again
	done     bool
}

const faultKinds = 10

// frame sends a frame of the flight on, changed or not.
func (s *disturbance) frame(f contract.Frame) {
	switch f.Code {
	case contract.CodeHello, contract.CodeSetting:
		s.preface = append(s.preface, append([]byte{byte(f.Code)}, f.Payload...))
		s.again(f.Code, f.Payload, 0)
	case contract.CodeIMU:
		var m contract.IMU
		_ = m.Decode(f.Payload)
		if in := m.Time >= s.from && m.Time < s.to; !in || s.imu(&m) {
			s.out = s.enc.IMU(s.out, &m)
		}
	case contract.CodeBaro:
		var m contract.Baro
		_ = m.Decode(f.Payload)
		if in := m.Time >= s.from && m.Time < s.to; !in || s.baro(&m) {
			s.out = s.enc.Baro(s.out, &m)
		}
		s.held = m
	case contract.CodeCommand:
		var m contract.Command
		_ = m.Decode(f.Payload)
		s.out = s.enc.Command(s.out, &m)
	case contract.CodeTick:
		var m contract.Tick
		_ = m.Decode(f.Payload)
		if m.Time >= s.from && !s.done {
			s.done = true
			s.word(m.Time)
		}
		s.out = s.enc.Tick(s.out, &m)
	}
}

func (s *disturbance) imu(m *contract.IMU) bool {
	switch s.kind {
	case 0:
		return false
	case 1:
		m.Has &^= contract.FreshGyro
	case 2:
		m.AccelX += s.size
	case 3:
		m.GyroY += 40 * s.size
	case 4:
		m.Time -= min(m.Time, 10_000_000) // old news
	}
	return true
}

func (s *disturbance) baro(m *contract.Baro) bool {
	switch s.kind {
	case 0, 5:
		return false
	case 6:
		m.Pressure = s.held.Pressure
	case 7:
		m.Pressure += uint32(40 * s.size) // wraps for some
	}
	return true
}

// word says something in between, once.
func (s *disturbance) word(now uint32) {
	switch s.kind {
	case 8:
		s.out = s.enc.Restart(s.out, &contract.Restart{Nonce: now})
		for _, p := range s.preface {
			s.again(contract.Code(p[0]), p[1:], now)
		}
	case 9:
		s.out = s.enc.Command(s.out, &contract.Command{Time: now, Command: uint8(s.rng.IntN(5))})
	}
}

func (s *disturbance) again(c contract.Code, payload []byte, now uint32) {
	if c == contract.CodeHello {
		var m contract.Hello
		_ = m.Decode(payload)
		m.Time = max(m.Time, now)
		s.out = s.enc.Hello(s.out, &m)
		return
	}
	var m contract.Setting
	_ = m.Decode(payload)
	s.out = s.enc.Setting(s.out, &m)
}

// TestReferenceDecidesAsTheMockOnFaultyFlights: the same with sensors that are wrong, silent or jump, and
// where the supply fails or an operator speaks at any time.
func TestReferenceDecidesAsTheMockOnFaultyFlights(t *testing.T) {
	program := reference(t)
	tap := &tapped{}
	benchtest.Fly(t, "../scenarios/nominal.yaml", benchtest.Options{Link: func(role string) (link.Link, error) {
		g, err := mock.New("")
		if role == "sustainer" {
			tap.Device = g
			return link.Memory(tap), err
		}
		return link.Memory(g), err
	}})
	heard := map[string]bool{}
	seeds := uint64(faultKinds) // one of each kind; make boards flies more
	if os.Getenv("DRYSTAGE_BOARDS") == "all" {
		seeds *= 4
	}
	for seed := range seeds {
		rng := rand.New(rand.NewPCG(seed, 1))
		s := &disturbance{rng: rng, kind: int(seed % faultKinds), from: uint32(rng.IntN(60_000_000))}
		s.to = s.from + uint32(rng.IntN(8_000_000))
		s.size = int32(rng.IntN(400_000)) - 200_000
		d, in := contract.NewDecoder(contract.FromHost), tap.in
		for {
			f, rest, ok := d.Next(in)
			if !ok {
				break
			}
			in = rest
			s.frame(f)
		}
		g, err := mock.New("")
		require.NoError(t, err)
		out := g.Feed(s.out, nil)
		for _, words := range said(t, out) {
			if strings.HasPrefix(words, "LOG ") {
				heard[words[len("LOG ")+4:]] = true // behind the time
			}
		}
		agree(t, program, fmt.Sprintf("seed %d, kind %d, from %d us", seed, s.kind, s.from), s.out, out)
	}
	assert.Greater(t, len(heard), 10, "the flights differ")
}
