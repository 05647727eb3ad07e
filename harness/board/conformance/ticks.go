package conformance

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"drystage/harness/board/contract"
)

func tickTests() []test {
	return []test{
		{name: "TICK is answered by one DONE of its time", contract: quote("TICK", "DONE", "DONE.time"), spec: "4, lockstep", needs: contract.CanLockstep, try: tickEchoed},
		{name: "the board numbers its frames", contract: "seq counts the frames of one sender modulo 256, whatever their type", spec: "1", needs: contract.CanLockstep, again: true, try: numbered},
		{name: "outputs are dark and the board is unarmed when a run begins", contract: quote("DONE.armed", "DONE.outputs"), spec: "5, rule 2", needs: contract.CanLockstep, try: offAtStart},
		{name: "every message to a board is taken", contract: quote("DONE.bad", "DONE.lost"), spec: "7", needs: contract.CanLockstep, try: everyMessage},
		{name: "another version is not answered as if fine", contract: quote("HELLO.version", "WELCOME.version"), spec: "4, step 2, and 6", try: versionRefused},
	}
}

func offAtStart(s *tester) result {
	edges := s.monitor.switchedOn
	if r, ok := s.beginRun(true); !ok {
		return r
	}
	sent := "HELLO, SETTINGs, samples of a rocket on its pad, 20 TICKs"
	for range 20 {
		if err := s.tick(); err != nil {
			return s.failed(err, sent)
		}
		if s.done.Outputs != 0 || s.done.Armed != 0 || s.monitor.switchedOn != edges {
			r := result{outcome: Fail, sent: sent, came: fmt.Sprintf("at %d us DONE says armed %d, outputs %016b; %d OUTPUTs on", s.now, s.done.Armed, s.done.Outputs, s.monitor.switchedOn-edges),
				why: "the board says that it is armed, and nobody has armed it"}
			if s.done.Outputs != 0 || s.monitor.switchedOn != edges {
				s.onAtStart = fmt.Sprintf("outputs %016b", s.done.Outputs|s.monitor.onSinceBegin)
				r.why = s.onAtStart + " are on when the board starts: nobody has armed it, and every output must be off from power-up on"
			}
			return r
		}
	}
	return result{outcome: Pass, sent: sent, came: "20 DONEs, unarmed, no output on", why: "dark from the first TICK"}
}

// skipOnAtStart is the result of a point that checks outputs for being off, on a board whose outputs are on at the
// start.
func (s *tester) skipOnAtStart(sent string) result {
	return result{sent: sent, came: nothing, why: "not tried: " + s.onAtStart + " are on when a run begins; put that right first"}
}

// beginOff begins a run for a point that needs all outputs off at its start.
func (s *tester) beginOff(sent string) (r result, ok bool) {
	if s.onAtStart != "" {
		return s.skipOnAtStart(sent), false
	}
	return s.beginRun(true)
}

// tickEchoed sends times that rise by different steps, and one equal time.
func tickEchoed(s *tester) result {
	if r, ok := s.beginRun(false); !ok {
		return r
	}
	sent := "8 TICKs whose times rise by 0 to 70 ms"
	for _, step := range []uint32{1, 5000, 0, 255, 256, 65536, 70_000, 20_000} {
		s.now += step
		err := s.exchange(s.Enc.Tick(nil, &contract.Tick{Time: s.now}))
		var wrong errTime
		if errors.As(err, &wrong) {
			return result{outcome: Fail, sent: sent, came: err.Error(), why: "a DONE must say which TICK it answers"}
		}
		if err != nil {
			return s.failed(err, sent)
		}
	}
	codes, err := s.listen(s.listenTime())
	if err != nil {
		return s.failed(err, sent)
	}
	if slices.Contains(codes, contract.CodeDone) {
		return result{outcome: Fail, sent: sent, came: "8 DONEs, and one more", why: "a DONE that no TICK asked for"}
	}
	return result{outcome: Pass, sent: sent, came: "8 DONEs, each of its TICK's time", why: "each time came back"}
}

// listenTime is how long nothing must come over a line to count as silence.
func (s *tester) listenTime() time.Duration { return min(s.opt.Timeout, 400*time.Millisecond) }

// everyMessage sends each message with usual and with extreme values, but no command except disarm: it tests the
// board's decoder.
func everyMessage(s *tester) result {
	if r, ok := s.beginRun(false); !ok {
		return r
	}
	sent := "IMU, BARO, GNSS, BATTERY, COMMAND (disarm), SETTING, SYNC with usual and with extreme values, each before a TICK"
	if err := s.ticks(5); err != nil {
		return s.failed(err, sent)
	}
	for _, make := range s.everyKind() {
		s.now += 1000
		if err := s.exchange(s.Enc.Tick(make(s.now), &contract.Tick{Time: s.now})); err != nil {
			return s.failed(err, sent)
		}
		if len(s.countErrors) > 0 {
			return result{outcome: Fail, soft: true, sent: sent, came: s.countErrors[0], why: "a message of the table was not taken as sound"}
		}
	}
	return result{outcome: Pass, sent: sent, came: "DONE after each, `bad` and `lost` as before", why: "none was called corrupt"}
}

func (s *tester) everyKind() (kinds []func(now uint32) []byte) {
	const least, most = math.MinInt32, math.MaxInt32
	var name [24]byte
	contract.PutText(name[:], "conformance_nothing_here")
	if s.Welcome.Capabilities&contract.CanCircuits != 0 {
		kinds = append(kinds, func(t uint32) []byte { return s.Enc.Circuits(nil, &contract.Circuits{Time: t, Open: math.MaxUint16}) },
			func(t uint32) []byte { return s.Enc.Circuits(nil, &contract.Circuits{Time: t}) })
	}
	if s.Welcome.Capabilities&contract.CanMag != 0 {
		kinds = append(kinds, func(t uint32) []byte { return s.Enc.Mag(nil, &contract.Mag{Time: t}) },
			func(t uint32) []byte {
				return s.Enc.Mag(nil, &contract.Mag{Time: t, FieldX: most, FieldY: least, FieldZ: most})
			})
	}
	return append(kinds, []func(uint32) []byte{
		func(t uint32) []byte { return s.Enc.IMU(nil, &contract.IMU{Time: t, Has: contract.FreshAccel}) },
		func(t uint32) []byte {
			return s.Enc.IMU(nil, &contract.IMU{Time: t, Has: contract.FreshAccel | contract.FreshGyro,
				AccelX: most, AccelY: least, AccelZ: most, GyroX: least, GyroY: most, GyroZ: least})
		},
		func(t uint32) []byte { return s.Enc.IMU(nil, &contract.IMU{Time: t}) },
		func(t uint32) []byte { return s.Enc.Baro(nil, &contract.Baro{Time: t}) },
		func(t uint32) []byte {
			return s.Enc.Baro(nil, &contract.Baro{Time: t, Pressure: math.MaxUint32, Temperature: math.MinInt16})
		},
		func(t uint32) []byte { return s.Enc.GNSS(nil, &contract.GNSS{Time: t}) },
		func(t uint32) []byte {
			return s.Enc.GNSS(nil, &contract.GNSS{Time: t, Latitude: least, Longitude: most,
				Height: most, East: least, North: least, Up: most, Fix: 255, Satellites: 255})
		},
		func(t uint32) []byte { return s.Enc.Battery(nil, &contract.Battery{Time: t}) },
		func(t uint32) []byte { return s.Enc.Battery(nil, &contract.Battery{Time: t, Voltage: math.MaxUint16}) },
		func(t uint32) []byte { return s.Enc.Command(nil, &contract.Command{Time: t, Command: contract.Disarm}) },
		func(t uint32) []byte { return s.Enc.Setting(nil, &contract.Setting{Name: name, Value: least}) },
		func(t uint32) []byte { return s.Enc.Sync(nil, &contract.Sync{Time: t}) },
	}...)
}
