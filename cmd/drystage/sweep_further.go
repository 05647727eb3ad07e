package main

import (
	"drystage/harness"
	"drystage/harness/judge/dispersion"
	"drystage/harness/run/campaign"
	"drystage/harness/vary"
)

// everyExpectation is the argument of --rare for all expectations at once.
const everyExpectation = "all"

// furtherFlags ask for flights beside the drawn ones.
type furtherFlags struct {
	Indices bool   `help:"Compute Sobol indices: how much of each margin's variance each parameter explains, alone and with others. Half of the flights are flown again for each parameter."`
	Rare    string `placeholder:"N|TEXT|all" help:"Estimate how rarely an expectation (its number, or a part of its text; or all) isn't met, by subset simulation: up to some thousand flights towards the failure, with --flights of them a step."`
}

// check rejects what can't be asked of these plans.
func (c *furtherFlags) check(points harness.Points, flights int, plans []harness.Plan) error {
	if !c.Indices && c.Rare == "" {
		return nil
	}
	if points != harness.Random {
		return wrongUse("--indices and --rare need flights that are drawn independently; leave out --sampling %s", points)
	}
	if c.Rare != "" && flights < dispersion.LeastRare {
		return wrongUse("--rare with --flights %d: wanted at least %d; 900 tell one in 100,000 within a factor of about 2", flights, dispersion.LeastRare)
	}
	for i := range plans {
		p := &plans[i]
		if len(p.Vary) == 0 {
			return wrongUse("%s varies nothing: --indices and --rare need a `vary` (drystage explain vary)", p.File)
		}
		if c.Indices && len(p.Correlated) > 0 {
			return wrongUse("%s correlates what varies; Sobol indices (--indices) are those of independent parameters", p.File)
		}
		if _, err := c.only(p); err != nil {
			return err
		}
	}
	return nil
}

// only is the expectation whose failure is looked for, from 1; 0: all.
func (c *furtherFlags) only(p *harness.Plan) (int, error) {
	if c.Rare == "" || c.Rare == everyExpectation {
		return 0, nil
	}
	return expectation("--rare", c.Rare, p)
}

// further flies what --indices and --rare need after the drawn flights of a sweep.
func (c *sweepCmd) further(d *console, s *dispersion.Sheet, bar *progress, limits []float64) error {
	if c.Indices {
		if err := c.mix(d, s, bar); err != nil {
			return interrupted(err, "after %d further flights of %s for Sobol indices", s.Further.All(), s.Plan.File)
		}
	}
	if c.Rare != "" {
		if err := c.rare(d, s, bar, limits); err != nil {
			return interrupted(err, "after %d further flights of %s towards a rare failure", s.Further.All(), s.Plan.File)
		}
	}
	return nil
}

func (c *sweepCmd) cases(d *console, s *dispersion.Sheet) *caseFlyer {
	return &caseFlyer{d: d, bench: c.bench, queue: &c.queueFlags, boards: &c.boardFlags, plan: &s.Plan, known: c.checkpoint}
}

// mix flies pairs of flights again, with one parameter of the other one.
func (c *sweepCmd) mix(d *console, s *dispersion.Sheet, bar *progress) error {
	seeds, values := s.Mixed()
	cases := make([]campaign.Case, len(seeds))
	for i := range cases {
		cases[i] = campaign.Case{Seed: seeds[i], Values: values[i]}
	}
	return c.cases(d, s).fly(cases, func(_ int, v harness.Verdict) error {
		bar.step(v)
		s.AddMixed(&v)
		return nil
	})
}

// rare flies towards a rare failure.
func (c *sweepCmd) rare(d *console, s *dispersion.Sheet, bar *progress, limits []float64) error {
	only, err := c.only(&s.Plan)
	if err != nil {
		return err
	}
	n := len(s.Flights) - len(s.Flights)%10
	first := make([]dispersion.State, n)
	for i := range first {
		f := &s.Flights[i]
		first[i] = dispersion.State{Scores: vary.Scores(&s.Plan, f.Seed), Seed: f.Seed, Limit: limits[i]}
	}
	r, err := dispersion.Subset(first, s.Plan.Setup.Seed, func(list []dispersion.State) error {
		cases := make([]campaign.Case, len(list))
		for i := range list {
			cases[i] = campaign.Case{Seed: list[i].Seed, Values: vary.At(&s.Plan, list[i].Scores)}
		}
		return c.cases(d, s).fly(cases, func(i int, v harness.Verdict) error {
			bar.step(v)
			list[i].Limit = dispersion.LimitState(&v, len(s.Plan.Expect), only)
			s.Further.Add(v.Answer)
			return nil
		})
	})
	if err != nil {
		return err
	}
	r.Of, r.Values = only, vary.At(&s.Plan, r.Worst.Scores)
	for i := range first {
		if first[i].Seed == r.Worst.Seed && first[i].Limit == r.Worst.Limit {
			r.Values = s.Flights[i].Values
		}
	}
	s.Rare = &r
	return nil
}
