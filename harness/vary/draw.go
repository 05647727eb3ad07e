package vary

import (
	"fmt"
	"strconv"
	"strings"

	"drystage/harness"
	"drystage/sim/noise"
	"drystage/sim/quantity"
)

// Seed gives the seed of a flight, counted from 1, in a sweep with a seed. It determines everything random in that
// flight: turbulence, noise, scatter.
func Seed(seed uint64, flight int) uint64 {
	s := noise.New(seed, fmt.Sprintf("sweep flight %d", flight))
	return uint64(s.Uniform()*(1<<32))<<32 | uint64(s.Uniform()*(1<<32))
}

// Draw gives the values of a flight, in the order of the plan's Vary, from the flight's seed. Each parameter has its own random
// stream by its name, so a new parameter doesn't change the others. Values have six digits in the unit of scenario
// files, so that a flight can be written down exactly.
func Draw(p *harness.Plan, seed uint64) []harness.Value {
	values := At(p, Scores(p, seed))
	for i := range p.Vary {
		// Laws that were here before scores keep the bits of their draws.
		if v := &p.Vary[i]; (v.Law == harness.Even || v.Law == harness.Normal) && !correlated(p, v.Name) {
			values[i] = value(v, draw(v, noise.New(seed, "vary "+v.Name)))
		}
	}
	return values
}

// value gives a parameter a value that a file can hold.
func value(v *harness.Vary, x float64) harness.Value {
	return harness.Value{Name: v.Name, Value: Nearest(v, quantity.Round(x, quantity.DimensionOf(v.Unit), 6)), Unit: v.Unit}
}

// Scores gives the scores behind the values of a flight: independent standard normal numbers at which At gives what Draw gives.
func Scores(p *harness.Plan, seed uint64) []float64 {
	out := make([]float64, len(p.Vary))
	for i := range p.Vary {
		v, s := &p.Vary[i], noise.New(seed, "vary "+p.Vary[i].Name)
		switch {
		case correlated(p, v.Name):
			out[i] = s.Normal()
		case v.Law == harness.Normal:
			out[i] = scoreInNormal(v, draw(v, s))
		default:
			out[i] = scoreOf(s.Uniform())
		}
	}
	return out
}

// At gives the values at scores, in the order of the plan's Vary: independent standard normal scores give values with the laws
// and correlations of the plan.
func At(p *harness.Plan, scores []float64) []harness.Value {
	values := make([]harness.Value, len(p.Vary))
	for i, x := range mix(p, scores) {
		values[i] = value(&p.Vary[i], valueAt(&p.Vary[i], x))
	}
	return values
}

// draw draws from a law that is even or normal.
func draw(v *harness.Vary, s *noise.Stream) float64 {
	if v.Law != harness.Normal {
		return min(v.Low+float64((v.High-v.Low)*s.Uniform()), v.High)
	}
	// A checked normal law has its mean inside the range and a sigma of at most half the range: more than two draws
	// in five are inside. The limit on the number of draws is for unchecked laws.
	for range 1000 {
		if x := v.Mean + float64(v.Sigma*s.Normal()); x >= v.Low && x <= v.High {
			return x
		}
	}
	return min(max(v.Mean, v.Low), v.High)
}

// Plan gives the plan of a flight, counted from 1, with its own seed and drawn values. Its name differs from that of the
// scenario. The flight needs a rehearsal. With points of a Sobol sequence, whose scrambling is from the plan's seed, flight i
// has point i-1; what else is random in a flight stays independent of the others.
func Plan(p *harness.Plan, flight int, points harness.Points) harness.Plan {
	seed := Seed(p.Setup.Seed, flight)
	var values []harness.Value
	if points == harness.Sobol {
		scores := make([]float64, len(p.Vary))
		for i := range scores {
			scores[i] = scoreOf(fraction(scramble(sobol(i, uint32(flight-1)), p.Setup.Seed, "sobol "+p.Vary[i].Name)))
		}
		values = At(p, scores)
	} else {
		values = Draw(p, seed)
	}
	out := Apply(p, p.Vary, values)
	out.Name = fmt.Sprintf("%s.flight%d", p.Name, flight)
	out.Setup.Seed, out.Drawn = seed, harness.Drawn{Seed: p.Setup.Seed, Flight: flight, Points: points}
	return out
}

// Text writes a value with its unit, as in files; it reads back as exactly the same number.
func Text(x harness.Value) string { return quantity.Text(x.Value, quantity.DimensionOf(x.Unit)) }

// Texts writes values as the `set` of a scenario in one line, to fly them again.
func Texts(values []harness.Value) string {
	var list []string
	for _, x := range values {
		list = append(list, "{of: "+x.Name+", is: "+Text(x)+"}")
	}
	return "[" + strings.Join(list, ", ") + "]"
}

// Brief writes a value with its unit to four digits; Text is exact.
func Brief(x harness.Value) string { return quantity.Short(x.Value, quantity.DimensionOf(x.Unit)) }

// Usual gives a value in the unit that people use, for axes, with the unit's symbol; one without a unit is a factor.
func Usual(x harness.Value) (value float64, symbol string) {
	if x.Unit == "" {
		return x.Value, "factor"
	}
	d := quantity.DimensionOf(x.Unit)
	return quantity.InUsual(x.Value, d), quantity.Usual(d)
}

// LawText describes the distribution of a varied parameter.
func LawText(v *harness.Vary) string {
	text := func(x float64) string { return Brief(harness.Value{Value: x, Unit: v.Unit}) }
	switch v.Law {
	case harness.Triangular:
		return text(v.Low) + " to " + text(v.High) + ", triangular around " + text(v.Mode)
	case harness.Discrete:
		return discreteText(v, text)
	case harness.Even:
		return text(v.Low) + " to " + text(v.High) + ", even"
	}
	sigma := text(v.Sigma)
	if v.Unit == "K" { // a difference
		sigma = strconv.FormatFloat(v.Sigma, 'g', 4, 64) + " K"
	}
	return text(v.Mean) + " +- " + sigma + ", normal"
}

// discreteText lists a few values with their shares.
func discreteText(v *harness.Vary, text func(float64) string) string {
	const most = 4
	var list []string
	for i, x := range v.Of {
		if i == most {
			list = append(list, fmt.Sprintf("%d more", len(v.Of)-most))
			break
		}
		list = append(list, text(x)+" ("+strconv.FormatFloat(100*v.Shares[i], 'g', 3, 64)+" %)")
	}
	return strings.Join(list, ", ")
}
