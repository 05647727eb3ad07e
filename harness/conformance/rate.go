package conformance

import (
	"fmt"
	"slices"
	"time"

	"drystage/harness/contract"
)

// Latency is how long answers to TICK took, from before the write to after the DONE: the line's time is
// in it. It says nothing of the processor alone.
type Latency struct {
	Ticks            int
	Median, Greatest time.Duration
}

const rateTime = 3.0 // s of samples

func rateTests() []test {
	return []test{{name: "samples at the announced rates are all taken and answered", needs: contract.CanLockstep, try: fullRate,
		contract: says("HELLO.imu_hz", "HELLO.baro_hz", "HELLO.gnss_hz", "HELLO.battery_hz", "TICK")}}
}

// fullRate sends three seconds of samples, each instant as soon as the one before is answered. In
// lockstep there is no time limit but the timeout; the times are told, for the real time to come.
func fullRate(s *session) result {
	if r, ok := s.started(true); !ok {
		return r
	}
	n := int(rateTime * s.opt.Rates.IMU)
	sent := fmt.Sprintf("%g s of samples: IMU %g Hz, BARO %g, GNSS %g, BATTERY %g, and %d TICKs", rateTime,
		s.opt.Rates.IMU, s.opt.Rates.Baro, s.opt.Rates.GNSS, s.opt.Rates.Battery, n)
	times := make([]time.Duration, n)
	for i := range times {
		began := s.opt.Now()
		if err := s.tick(); err != nil {
			return s.broke(err, sent)
		}
		times[i] = s.opt.Now().Sub(began)
	}
	slices.Sort(times)
	s.taken = Latency{n, times[n/2], times[n-1]}
	period := time.Duration(float64(time.Second) / s.opt.Rates.IMU)
	why := "all were answered; the longest answer is shorter than the IMU's period, " + period.String()
	if s.taken.Greatest > period {
		why = "all were answered; in real time the longest answer would be later than the IMU's period, " + period.String()
	}
	return result{outcome: Pass, sent: sent, why: why,
		came: fmt.Sprintf("%d DONEs, after %s in the median and %s at most", n, round(s.taken.Median), round(s.taken.Greatest))}
}

func round(d time.Duration) time.Duration { return d.Round(max(1, d/100)) }
