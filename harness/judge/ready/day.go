package ready

import "drystage/sim"

// Days is what the scenarios that pass were flown in, so that the day on the field can be held against it.
// The zero value: no scenario passes.
type Days struct {
	Known       bool
	Wind        Range // m/s, steady, at the height that its scenario tells it for
	Gust        float64
	Temperature Range // K, at the pad
	Pressure    Range // Pa, at the pad
	RailTilt    Range // rad from vertical
}

// Range is the least and the greatest of what was flown; what lies between need not have been.
type Range struct{ Least, Most float64 }

// day is the day of one flight.
type day struct{ wind, gust, temperature, pressure, tilt float64 }

func dayOf(s *sim.Setup) day {
	d := day{wind: s.Wind.Speed, temperature: s.Vehicle.Site.Temperature, pressure: s.Vehicle.Site.Pressure, tilt: s.Vehicle.Rail.Tilt}
	if len(s.Wind.Aloft) > 0 {
		d.wind = s.Wind.Aloft[0].Speed
	}
	for _, g := range s.Wind.Gusts {
		d.gust = max(d.gust, g.Peak)
	}
	return d
}

// days sums up the days of all records that pass.
func days(flights []flight) (all Days) {
	for i := range flights {
		f := &flights[i]
		if !f.proves() {
			continue
		}
		d := f.day
		if !all.Known {
			all = Days{true, Range{d.wind, d.wind}, d.gust, Range{d.temperature, d.temperature}, Range{d.pressure, d.pressure}, Range{d.tilt, d.tilt}}
		}
		all.Wind.take(d.wind)
		all.Gust = max(all.Gust, d.gust)
		all.Temperature.take(d.temperature)
		all.Pressure.take(d.pressure)
		all.RailTilt.take(d.tilt)
	}
	return all
}

func (r *Range) take(x float64) { r.Least, r.Most = min(r.Least, x), max(r.Most, x) }
