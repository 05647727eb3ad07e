package report

import (
	"io"
	"strconv"

	"drystage/harness"
	"drystage/harness/judge/dispersion"
	"drystage/harness/show/schema"
)

// SweepJSON writes what the flights of sweeps tell as one JSON object (RFC 8259). Values are in SI.
func SweepJSON(w io.Writer, sheets []*dispersion.Sheet, opt Options) error {
	for _, s := range sheets {
		if len(s.Flights) == 0 && s.NotFlown() == 0 {
			return ErrEmpty
		}
	}
	if len(sheets) == 0 {
		return ErrEmpty
	}
	return sweepsObject(sheets, &opt).Write(w)
}

func sweepsObject(sheets []*dispersion.Sheet, opt *Options) object {
	return object{
		{"run", when(!opt.Began.IsZero(), runObject(opt)), runDoc},
		{"boards", list(opt.Seats, seatObject), boardsDoc},
		{"sweeps", list(sheets, func(s **dispersion.Sheet) object {
			if *s == nil {
				return sweepObject(&dispersion.Sheet{})
			}
			return sweepObject(*s)
		}), "one for each scenario"},
		{"not_ours", when(len(opt.Foreign) > 0, opt.Foreign), foreignDoc},
	}
}

func sweepObject(s *dispersion.Sheet) object {
	c, n := s.Count(), len(s.Flights)
	rate, least, interval := 0.0, 0.0, [2]float64{0, 1}
	if n > 0 {
		rate, least = float64(c.Pass)/float64(n), dispersion.AtLeast(c.Pass, n)
		interval[0], interval[1] = dispersion.Interval(c.Pass, n)
	}
	return object{
		{"name", s.Plan.Name, "the scenario's file name without folder and ending"},
		{"title", s.Plan.Title, "its title"},
		{"file", s.Plan.File, "the path it was read from"},
		{"digest", s.Plan.Digest, digestDoc},
		{"seed", strconv.FormatUint(s.Plan.Setup.Seed, 10), seedDoc},
		{"answer", answer(s.Answer()), answerDoc},
		{"flights", n, "that were flown"},
		{"passed", c.Pass, "flights that pass"},
		{"failed", c.Fail, "flights that fail"},
		{"unsure", c.Unsure, "flights that are neither"},
		{"not_flown", omitZero(s.NotFlown()), "of those that were to be flown"},
		{"pass_rate", rate, "share of the flights that pass"},
		{"confidence", dispersion.Confidence, "of the two bounds below"},
		{"pass_rate_interval", interval, "two-sided interval of the pass rate"},
		{"pass_rate_at_least", least, "one-sided bound of the pass rate"},
		{"points", schema.OneOf(s.Points.String(), harness.Random.String(), harness.Sobol.String()), "how the values of the flights are spread: drawn independently, or points of a scrambled Sobol sequence"},
		{"correlated", list(s.Plan.Correlated, correlatedObject), "what doesn't vary independently"},
		{"varied", list(s.Plan.Vary, variedObject), "what differs from flight to flight"},
		{"expectations", list(s.Outcomes(), func(o *dispersion.Outcome) object { return outcomeObject(o, s) }), "in the scenario's order"},
		{"further", countObject(s.Further), "flights beside the drawn ones: those for Sobol indices and for rare failures"},
		{"rare", rareObject(s), "how probable a rare failure is"},
		{"doubts", list(s.Doubts, doubtObject), "about the runs themselves"},
		{"flown", list(s.Flights, flightObject), "each flight"},
	}
}

func variedObject(v *harness.Vary) object {
	normal, discrete := v.Law == harness.Normal, v.Law == harness.Discrete
	return object{
		{"name", v.Name, "as `vary` of scenarios has it"},
		{"unit", omitZero(v.Unit), "SI unit of its values; none: a plain number"},
		{"law", schema.OneOf(v.Law.String(), harness.Laws()...), "how its values are spread"},
		{"low", v.Low, "the least value"},
		{"high", v.High, "the greatest value"},
		{"mean", when(normal, v.Mean), "of a normal law"},
		{"sigma", when(normal, v.Sigma), "standard deviation of a normal law"},
		{"mode", when(v.Law == harness.Triangular, v.Mode), "likeliest value of a triangular law"},
		{"values", when(discrete, v.Of), "of a discrete law, rising"},
		{"shares", when(discrete, v.Shares), "probability of each of `values`"},
	}
}

func correlatedObject(c *harness.Correlated) object {
	return object{
		{"pair", c.Pair[:], "names of two that vary"},
		{"rho", c.Rho, "Spearman's rank correlation that they are drawn with"},
	}
}

func outcomeObject(o *dispersion.Outcome, s *dispersion.Sheet) object {
	worst := 0
	if o.Worst >= 0 && o.Worst < len(s.Flights) {
		worst = s.Flights[o.Worst].Number
	}
	return object{
		{"expectation", o.Text, "what was demanded"},
		{"place", omitZero(o.Place.String()), placeDoc},
		{"passed", o.Pass, "flights in which it passes"},
		{"failed", o.Fail, "flights in which it fails"},
		{"unsure", o.Unsure, "flights in which it is neither"},
		{"with_margin", o.Measured, "flights with a margin"},
		{"unit", omitZero(o.Unit), "of the margins; none: a plain number"},
		{"margin_smallest", omitZero(number(o.Least)), "of the flights with a margin, in `unit`"},
		{"margin_p5", omitZero(number(o.Percentile5)), "5 % quantile by nearest rank, in `unit`"},
		{"margin_median", omitZero(number(o.Median)), "median by nearest rank, in `unit`"},
		{"bins", list(o.Bins, binObject), "histogram of the margins"},
		{"worst_flight", worst, "its number"},
		{"rho_noise", o.NoiseBound, "rank correlation that chance alone stays below"},
		{"driven_by", list(o.Drivers, driverObject), "what varies and correlates with the margin beyond chance, the strongest first"},
		{"indices", list(o.Indices, indexObject), "Sobol indices of what varies, the largest total one first; empty: they were not asked for, or too few flights have a margin"},
	}
}

func binObject(b *dispersion.Bin) object {
	return object{
		{"from", round(b.From, 6), "included"},
		{"to", round(b.To, 6), "not included, but in the last bin"},
		{"count", b.Count, "of flights"},
	}
}

func driverObject(d *dispersion.Driver) object {
	return object{
		{"name", d.Name, "of what varies"},
		{"rho", round(d.Rho, 6), "Spearman's rank correlation; above 0 the margin grows with it"},
	}
}

func doubtObject(d *dispersion.Doubt) object {
	return object{
		{"finding", d.Text, "what is in doubt"},
		{"answer", answer(d.Answer), "to it"},
		{"reason", d.Reason, "of the first flight"},
		{"first_flight", d.First, "its number"},
		{"flights", d.Count, "in which it came up"},
	}
}

func flightObject(f *dispersion.Flight) object {
	values, margins := map[string]float64{}, make([]*float64, len(f.Margins))
	for _, v := range f.Values {
		values[v.Name] = v.Value
	}
	for i, m := range f.Margins {
		margins[i] = number(m)
	}
	return object{
		{"flight", f.Number, "from 1"},
		{"seed", strconv.FormatUint(f.Seed, 10), seedDoc},
		{"answer", answer(f.Answer), answerDoc},
		{"values", values, "what varies, in SI, by its name"},
		{"margins", margins, "of the expectations, in their units; null where nothing could be measured"},
	}
}
