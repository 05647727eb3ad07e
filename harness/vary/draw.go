package vary

import (
	"fmt"
	"slices"
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

// Draw gives the values of a flight, in the order of vary, from the flight's seed. Each parameter has its own random
// stream by its name, so a new parameter doesn't change the others. Values have six digits in the unit of scenario
// files, so that a flight can be written down exactly.
func Draw(vary []harness.Vary, seed uint64) []harness.Value {
	values := make([]harness.Value, len(vary))
	for i := range vary {
		v := &vary[i]
		x := quantity.Round(draw(v, noise.New(seed, "vary "+v.Name)), dimension(v.Unit), 6)
		values[i] = harness.Value{Name: v.Name, Value: min(max(x, v.Low), v.High), Unit: v.Unit}
	}
	return values
}

func draw(v *harness.Vary, s *noise.Stream) float64 {
	if v.Law == harness.Even {
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
// scenario. The flight needs a rehearsal.
func Plan(p *harness.Plan, flight int) harness.Plan {
	seed := Seed(p.Setup.Seed, flight)
	out := Apply(p, p.Vary, Draw(p.Vary, seed))
	out.Name = fmt.Sprintf("%s.flight%d", p.Name, flight)
	out.Setup.Seed, out.Drawn = seed, harness.Drawn{Seed: p.Setup.Seed, Flight: flight}
	return out
}

// Text writes a value with its unit, as in files; it reads back as exactly the same number.
func Text(x harness.Value) string { return quantity.Text(x.Value, dimension(x.Unit)) }

// Texts writes values as the `set` of a scenario in one line, to fly them again.
func Texts(values []harness.Value) string {
	var list []string
	for _, x := range values {
		list = append(list, "{of: "+x.Name+", is: "+Text(x)+"}")
	}
	return "[" + strings.Join(list, ", ") + "]"
}

// dimension finds the dimension of an SI unit.
func dimension(unit string) quantity.Dimension {
	all := quantity.Dimensions()
	i := slices.IndexFunc(all, func(d quantity.Dimension) bool { return quantity.Units(d)[0] == unit })
	return all[max(i, 0)]
}

// Brief writes a value with its unit to four digits; Text is exact.
func Brief(x harness.Value) string { return quantity.Short(x.Value, dimension(x.Unit)) }

// LawText describes the distribution of a varied parameter.
func LawText(v *harness.Vary) string {
	text := func(x float64) string { return Brief(harness.Value{Value: x, Unit: v.Unit}) }
	if v.Law == harness.Even {
		return text(v.Low) + " to " + text(v.High) + ", even"
	}
	sigma := text(v.Sigma)
	if v.Unit == "K" { // a difference
		sigma = strconv.FormatFloat(v.Sigma, 'g', 4, 64) + " K"
	}
	return text(v.Mean) + " +- " + sigma + ", normal"
}
