package ready

import "drystage/sim"

// Days is the range of weather and rail tilt of the scenarios that pass, to compare with the day on the field. The zero
// value: no scenario passes.
type Days struct {
	Known       bool
	Wind        Range // m/s, steady, at the height given in the scenario
	Gust        float64
	Temperature Range // K, at the pad
	Pressure    Range // Pa, at the pad
	RailTilt    Range // rad from vertical
}

// Range is the least and the greatest value that was flown; not all values between need have been flown.
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

// days gives the ranges of all records that pass.
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
