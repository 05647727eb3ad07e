package report

import (
	"encoding/json"
	"io"
	"math"
	"strconv"
	"time"

	"drystage/harness"
	"drystage/harness/judge/dispersion"
)

// sweepDocument is a report of sweeps as JSON: all that differs between two equal runs stands in Run.
type sweepDocument struct {
	Run     *runJSON    `json:"run,omitempty"`
	Boards  []seatJSON  `json:"boards"`
	Sweeps  []sweepJSON `json:"sweeps"`
	Foreign []string    `json:"not_ours,omitempty"`
}

type sweepJSON struct {
	Name       string        `json:"name"`
	Title      string        `json:"title"`
	File       string        `json:"file"`
	Digest     string        `json:"digest"`
	Seed       string        `json:"seed"`
	Answer     string        `json:"answer"`
	Flights    int           `json:"flights"`
	Passed     int           `json:"passed"`
	Failed     int           `json:"failed"`
	Unsure     int           `json:"unsure"`
	NotFlown   int           `json:"not_flown,omitempty"`
	Rate       float64       `json:"pass_rate"`
	Confidence float64       `json:"confidence"`
	Interval   [2]float64    `json:"pass_rate_interval"`
	AtLeast    float64       `json:"pass_rate_at_least"` // one-sided
	Varied     []variedJSON  `json:"varied"`
	Outcomes   []outcomeJSON `json:"expectations"`
	Doubts     []doubtJSON   `json:"doubts"`
	All        []flownJSON   `json:"flown"`
}

type variedJSON struct {
	Name  string   `json:"name"`
	Unit  string   `json:"unit,omitempty"`
	Law   string   `json:"law"`
	Low   float64  `json:"low"`
	High  float64  `json:"high"`
	Mean  *float64 `json:"mean,omitempty"`
	Sigma *float64 `json:"sigma,omitempty"`
}

type outcomeJSON struct {
	Text     string       `json:"expectation"`
	Place    string       `json:"place,omitempty"`
	Passed   int          `json:"passed"`
	Failed   int          `json:"failed"`
	Unsure   int          `json:"unsure"`
	Measured int          `json:"with_margin"`
	Unit     string       `json:"unit,omitempty"`
	Least    *float64     `json:"margin_smallest,omitempty"`
	Fifth    *float64     `json:"margin_p5,omitempty"`
	Median   *float64     `json:"margin_median,omitempty"`
	Bins     []binJSON    `json:"bins"`
	Worst    int          `json:"worst_flight"`
	Noise    float64      `json:"rho_noise"`
	Drivers  []driverJSON `json:"driven_by"`
}

type binJSON struct {
	From  float64 `json:"from"`
	To    float64 `json:"to"`
	Count int     `json:"count"`
}

type driverJSON struct {
	Name string  `json:"name"`
	Rho  float64 `json:"rho"`
}

type doubtJSON struct {
	Text   string `json:"finding"`
	Answer string `json:"answer"`
	Reason string `json:"reason"`
	First  int    `json:"first_flight"`
	Count  int    `json:"flights"`
}

type flownJSON struct {
	Number  int                `json:"flight"`
	Seed    string             `json:"seed"`
	Answer  string             `json:"answer"`
	Values  map[string]float64 `json:"values"` // SI; the keys come in order
	Margins []*float64         `json:"margins"`
}

// SweepJSON writes what the flights of sweeps tell as one JSON object (RFC 8259). Values are in SI.
func SweepJSON(w io.Writer, sheets []*dispersion.Sheet, opt Options) error {
	d := sweepDocument{Boards: seatsJSON(opt.Seats), Foreign: opt.Foreign}
	if !opt.Began.IsZero() {
		d.Run = &runJSON{
			opt.Began.UTC().Format(time.RFC3339), math.Round(opt.Took.Seconds()*1e3) / 1e3,
			opt.Host, opt.Made.Version, opt.Made.Go, opt.Made.Arch, opt.Made.Boards,
		}
	}
	for _, s := range sheets {
		if len(s.Flights) == 0 && s.NotFlown() == 0 {
			return ErrEmpty
		}
		d.Sweeps = append(d.Sweeps, sweepOf(s))
	}
	if len(d.Sweeps) == 0 {
		return ErrEmpty
	}
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(d)
}

func sweepOf(s *dispersion.Sheet) sweepJSON {
	c, n := s.Count(), len(s.Flights)
	j := sweepJSON{
		Name: s.Plan.Name, Title: s.Plan.Title, File: s.Plan.File, Digest: s.Plan.Digest, Seed: strconv.FormatUint(s.Plan.Setup.Seed, 10),
		Answer: s.Answer().String(), Flights: n, Passed: c.Pass, Failed: c.Fail, Unsure: c.Unsure, NotFlown: s.NotFlown(),
		Confidence: dispersion.Confidence, Interval: [2]float64{0, 1},
		Varied: []variedJSON{}, Outcomes: []outcomeJSON{}, Doubts: []doubtJSON{}, All: []flownJSON{},
	}
	if n > 0 {
		j.Rate, j.AtLeast = float64(c.Pass)/float64(n), dispersion.AtLeast(c.Pass, n)
		j.Interval[0], j.Interval[1] = dispersion.Interval(c.Pass, n)
	}
	for _, v := range s.Plan.Vary {
		x := variedJSON{Name: v.Name, Unit: v.Unit, Law: v.Law.String(), Low: v.Low, High: v.High}
		if v.Law == harness.Normal {
			x.Mean, x.Sigma = &v.Mean, &v.Sigma
		}
		j.Varied = append(j.Varied, x)
	}
	for _, o := range s.Outcomes() {
		j.Outcomes = append(j.Outcomes, outcomeOf(&o, s))
	}
	for _, d := range s.Doubts {
		j.Doubts = append(j.Doubts, doubtJSON{d.Text, d.Answer.String(), d.Reason, d.First, d.Count})
	}
	for i := range s.Flights {
		f := &s.Flights[i]
		x := flownJSON{Number: f.Number, Seed: strconv.FormatUint(f.Seed, 10), Answer: f.Answer.String(), Values: map[string]float64{}, Margins: []*float64{}}
		for _, v := range f.Values {
			x.Values[v.Name] = v.Value
		}
		for _, m := range f.Margins {
			x.Margins = append(x.Margins, number(m))
		}
		j.All = append(j.All, x)
	}
	return j
}

func outcomeOf(o *dispersion.Outcome, s *dispersion.Sheet) outcomeJSON {
	x := outcomeJSON{
		Text: o.Text, Place: o.Place.String(), Passed: o.Pass, Failed: o.Fail, Unsure: o.Unsure, Measured: o.Measured, Unit: o.Unit,
		Least: number(o.Least), Fifth: number(o.Fifth), Median: number(o.Median), Bins: []binJSON{}, Noise: o.Noise, Drivers: []driverJSON{},
	}
	if o.Worst >= 0 {
		x.Worst = s.Flights[o.Worst].Number
	}
	for _, b := range o.Bins {
		x.Bins = append(x.Bins, binJSON{round(b.From, 6), round(b.To, 6), b.Count})
	}
	for _, d := range o.Drivers {
		x.Drivers = append(x.Drivers, driverJSON{d.Name, round(d.Rho, 6)})
	}
	return x
}
