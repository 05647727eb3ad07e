package report

import (
	"strconv"

	"drystage/harness"
	"drystage/harness/judge/dispersion"
	"drystage/harness/show/schema"
)

func indexObject(x *dispersion.Index) object {
	return object{
		{"name", x.Name, "of what varies; seed: turbulence, noise and scatter"},
		{"first", round(x.First.Value, 6), "first-order index: share of the margin's variance that goes if it is known"},
		{"first_interval", interval(x.First), "95 % interval of `first`"},
		{"total", round(x.Total.Value, 6), "total index: share of the variance that stays if all others are known"},
		{"total_interval", interval(x.Total), "95 % interval of `total`"},
	}
}

func interval(e dispersion.Estimate) [2]float64 { return [2]float64{round(e.Low, 6), round(e.High, 6)} }

// rareObject is there if a rare failure was looked for.
func rareObject(s *dispersion.Sheet) schema.Optional {
	r := s.Rare
	if r == nil {
		r = &dispersion.Rare{}
	}
	values := map[string]float64{}
	for _, v := range r.Values {
		values[v.Name] = v.Value
	}
	return when(s.Rare != nil, object{
		{"expectation", omitZero(r.Of), "number of the expectation, from 1; none: all"},
		{"probability", r.Value, "that a flight doesn't pass, by subset simulation"},
		{"interval", [2]float64{r.Low, r.High}, "its 95 % interval"},
		{"variation", r.Variation, "coefficient of variation of `probability`"},
		{"ended", r.Ended, "the flights gave no way to go on; only the upper end of `interval` tells something"},
		{"flights", r.Flights, "that tell it, with those of the first level"},
		{"levels", list(r.Levels, func(l *dispersion.Level) object {
			return object{
				{"limit", number(l.Limit), "margin share that flights beyond the level don't exceed"},
				{"share", l.Share, "of the flights of the level before"},
			}
		}), "steps towards the failure"},
		{"worst_seed", strconv.FormatUint(r.Worst.Seed, 10), "of the flight nearest to failing, or that failed worst"},
		{"worst_values", values, "its values, in SI"},
	})
}

// countObject tells answers of further flights, if there are any.
func countObject(c harness.Count) schema.Optional {
	return when(c.All() > 0, object{
		{"passed", c.Pass, "flights that pass"},
		{"failed", c.Fail, "flights that fail"},
		{"unsure", c.Unsure, "flights that are neither"},
	})
}
