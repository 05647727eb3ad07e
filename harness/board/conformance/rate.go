package conformance

import (
	"fmt"
	"slices"
	"time"

	"drystage/harness/board/contract"
)

// Latency is how long answers to TICK took, from before the write until DONE. The line's time is part of it.
type Latency struct {
	Ticks            int
	Median, Greatest time.Duration
}

const rateTime = 3.0 // s of samples

func rateTests() []test {
	return []test{{name: "samples at the announced rates are all taken and answered", needs: contract.CanLockstep, try: fullRate, spec: "4, steps 2 and 4",
		contract: quote("HELLO.imu_hz", "HELLO.baro_hz", "HELLO.gnss_hz", "HELLO.battery_hz", "TICK")}}
}

// fullRate sends three seconds of samples, each instant as soon as the one before is answered, all frames of an
// instant in one write, as in a run. A board that drops frames shows it by its counts. Lockstep has no time limit but
// the time-out; the times are reported because they matter in real time.
func fullRate(s *tester) result {
	if r, ok := s.beginRun(true); !ok {
		return r
	}
	n := int(rateTime * s.opt.Rates.IMU)
	sent := fmt.Sprintf("%g s of samples: IMU %g Hz, BARO %g, GNSS %g, BATTERY %g, and %d TICKs", rateTime,
		s.opt.Rates.IMU, s.opt.Rates.Baro, s.opt.Rates.GNSS, s.opt.Rates.Battery, n)
	s.samples.together = true
	defer func() { s.samples.together = false }()
	times, bad, lost := make([]time.Duration, n), s.done.Bad, s.done.Lost
	for i := range times {
		began := s.opt.Now()
		if err := s.tick(); err != nil {
			return s.failed(err, sent)
		}
		times[i] = s.opt.Now().Sub(began)
	}
	if len(s.countErrors) > 0 {
		return result{outcome: Fail, soft: true, sent: sent,
			came: fmt.Sprintf("`bad` rose by %d and `lost` by %d; first %s", s.done.Bad-bad, s.done.Lost-lost, s.countErrors[0]),
			why:  "the board drops frames at the rate that it has taken with its WELCOME; make its receive buffer or queue larger, or announce less"}
	}
	slices.Sort(times)
	s.latency = Latency{n, times[n/2], times[n-1]}
	period := time.Duration(float64(time.Second) / s.opt.Rates.IMU)
	why := "all were answered; the longest answer is shorter than the IMU's period, " + period.String()
	if s.latency.Greatest > period {
		why = "all were answered; in real time the longest answer would be later than the IMU's period, " + period.String()
	}
	return result{outcome: Pass, sent: sent, why: why,
		came: fmt.Sprintf("%d DONEs, after %s in the median and %s at most", n, round(s.latency.Median), round(s.latency.Greatest))}
}

// usualBaud is assumed for the line use when the board has no serial line.
const usualBaud = 115200

// LineUse tells which share of a serial line (8N1) the announced rates take, towards the board.
func (r *Report) LineUse() string {
	baud, ticked := r.Baud, r.Rates
	if baud <= 0 {
		baud = usualBaud
	}
	ticked.Tick = ticked.IMU
	return fmt.Sprintf("%d baud, IMU %g Hz, BARO %g, GNSS %g, BATTERY %g: %.0f %% with samples, %.0f %% with TICKs too",
		baud, r.Rates.IMU, r.Rates.Baro, r.Rates.GNSS, r.Rates.Battery, 100*contract.LineUse(baud, r.Rates), 100*contract.LineUse(baud, ticked))
}

func round(d time.Duration) time.Duration { return d.Round(max(1, d/100)) }
