package scenario

import (
	"fmt"
	"slices"
	"strings"

	"drystage/harness"
	"drystage/harness/vary"
	"drystage/sim/quantity"
)

// without reads which faults are left out.
func (s *planBuilder) without(o *object) {
	v := o.get("without")
	names := vary.FaultNames(s.plan.Setup.Faults, nil)
	for _, e := range v.list() {
		name := e.text()
		switch {
		case !e.ok():
		case !slices.Contains(names, name):
			p := harness.Problem{Place: e.at, Found: "unknown fault " + quote(name), Wanted: "a fault of this scenario, or of the one that it is like", Hint: nearest(name, names)}
			if p.Hint == "" && len(names) > 0 {
				p.Hint = "the names are " + choices(names)
			}
			s.l.report(p)
		case slices.Contains(s.leftOut, name):
			s.l.report(harness.Problem{Place: e.at, Found: quote(name) + " again", Wanted: "each fault once"})
		default:
			s.leftOut = append(s.leftOut, name)
		}
	}
}

// vary reads what may differ from flight to flight, and puts in what is set for this one.
func (s *planBuilder) vary(o *object) {
	varies, set := o.get("vary"), o.get("set")
	for _, v := range []value{varies, set} {
		if v.given && len(v.list()) > 0 && o.get("log").given {
			s.l.report(harness.Problem{Place: v.at, Found: "values that differ beside a \"log\"", Wanted: "one of them", Hint: "a flight that was flown can't differ any more"})
			return
		}
	}
	if len(varies.list()) == 0 && len(set.list()) == 0 {
		return
	}
	things := s.parameters(o)
	seen := map[string]harness.Place{}
	var fixed []harness.Vary
	var values []harness.Value
	for _, e := range set.objects() {
		t := s.parameter(e, things, seen)
		is := e.get("is")
		if t.Name == "" {
			continue // of nothing: any value would be of the wrong kind
		}
		if x, ok := s.l.amount(is, t.is); ok {
			fixed, values = append(fixed, t.Vary), append(values, harness.Value{Name: t.Name, Value: x, Unit: t.Unit})
		}
	}
	both := seen
	if set.at.File != varies.at.File {
		both = map[string]harness.Place{} // a scenario like a sweep fixes what varies there
	}
	for _, e := range varies.objects() {
		t := s.parameter(e, things, both)
		if t.Name == "" {
			continue
		}
		t.Place = e.at
		isSet := slices.ContainsFunc(values, func(x harness.Value) bool { return x.Name == t.Name })
		if s.law(e, &t) && !isSet {
			s.plan.Vary = append(s.plan.Vary, t.Vary)
		}
	}
	s.correlations(o.get("correlated"))
	if len(s.l.problems) == 0 {
		s.plan = vary.Apply(&s.plan, fixed, values)
	}
}

// parameter finds the parameter that an entry names, each once. An empty name: it was reported, or the entry came by
// `like` and its parameter is not in this scenario.
func (s *planBuilder) parameter(e *object, things []parameter, seen map[string]harness.Place) parameter {
	of := e.get("of")
	name := of.text()
	if !of.ok() {
		return parameter{}
	}
	i := slices.IndexFunc(things, func(t parameter) bool { return t.Name == name })
	switch {
	case of.at.File != s.plan.File && (i < 0 || things[i].missing != ""):
		return parameter{} // taken from a scenario that has more of what can vary
	case i < 0:
		s.l.report(harness.Problem{Place: of.at, Found: "unknown name " + quote(name), Wanted: "something that can vary in this flight", Hint: s.parameterHint(name, things)})
		return parameter{}
	case things[i].missing != "":
		s.l.report(harness.Problem{Place: of.at, Found: quote(name), Wanted: "something that can vary in this flight", Hint: things[i].missing})
		return parameter{}
	}
	if first, twice := seen[name]; twice {
		s.l.report(harness.Problem{Place: of.at, Found: quote(name) + " again", Wanted: "each thing once", Hint: fmt.Sprintf("the first is on line %d", first.Line)})
		return parameter{}
	}
	seen[name] = of.at
	return things[i]
}

// parameterHint gives the right name near a wrong one, or the names of the same stage, board or fault, or all names
// but those of faults.
func (s *planBuilder) parameterHint(name string, things []parameter) string {
	var have, alike, few []string
	of, _ := splitLast(name)
	for _, t := range things {
		if t.missing != "" {
			continue
		}
		have = append(have, t.Name)
		if before, _ := splitLast(t.Name); before == of {
			alike = append(alike, t.Name)
		}
		if t.What != harness.FaultFrom && t.What != harness.FaultBy {
			few = append(few, t.Name)
		}
	}
	if hint := nearest(name, have); hint != "" {
		return hint
	}
	if len(alike) > 0 {
		return "the names are " + choices(alike)
	}
	return "the names are " + choices(append(few, "those of faults"))
}

// law reads how values are spread over the range.
func (s *planBuilder) law(e *object, t *parameter) bool {
	between, mean, sigma, triangular, list, weights := e.get("between"), e.get("mean"), e.get("sigma"), e.get("triangular"), e.get("one_of"), e.get("weights")
	laws := 0
	for _, v := range []value{between, mean, triangular, list} {
		if v.given {
			laws++
		}
	}
	if laws != 1 || mean.given != sigma.given || weights.given && !list.given {
		s.l.report(harness.Problem{Place: e.at, Found: t.Name + " without one clear law", Wanted: "one of: between; mean and sigma; triangular; one_of, with weights if they differ", Hint: "between: [LOW, HIGH] spreads evenly"})
		return false
	}
	switch {
	case mean.given:
		return s.normal(t, mean, sigma)
	case triangular.given:
		return s.triangular(t, triangular)
	case list.given:
		return s.discrete(t, list, weights)
	}
	return s.even(t, between)
}

// even reads the ends of an even law.
func (s *planBuilder) even(t *parameter, between value) bool {
	ends := between.list()
	if len(ends) != 2 {
		return false
	}
	low, fine := s.l.amount(ends[0], t.is)
	high, also := s.l.amount(ends[1], t.is)
	if !fine || !also {
		return false
	}
	if low >= high {
		p := harness.Problem{Place: ends[1].at, Found: "a range from " + ends[0].text() + " to " + ends[1].text(), Wanted: "a range that ends above its beginning"}
		if t.is.dim == quantity.Angle {
			p.Hint = "across north it goes from below 0, as in [-20 deg, 20 deg]"
		}
		s.l.report(p)
		return false
	}
	t.Law, t.Low, t.High = harness.Even, low, high
	return true
}

// normal reads a normal law, which is cut at the ends of the parameter's range.
func (s *planBuilder) normal(t *parameter, mean, sigma value) bool {
	m, fine := s.l.amount(mean, t.is)
	x, err := quantity.Parse(sigma.text(), t.is.dim)
	most := (t.is.max - t.is.min) / 2
	unit := quantity.Units(t.is.dim)[0]
	switch {
	case !sigma.ok():
		return false
	case err != nil:
		s.l.reportQuantity(sigma.at, err)
		return false
	case t.is.dim == quantity.Temperature && !strings.HasSuffix(strings.TrimSpace(sigma.text()), "K"):
		s.l.report(harness.Problem{Place: sigma.at, Found: quote(sigma.text()), Wanted: "a difference of temperature in K", Hint: "degrees Celsius are no difference; write 5 K"})
		return false
	case !(x > 0 && x <= most):
		s.l.report(harness.Problem{Place: sigma.at, Found: "sigma " + sigma.text(), Wanted: strings.TrimSpace(fmt.Sprintf("more than 0, at most %.6g %s", most, unit)), Hint: "half of what " + t.Name + " may be"})
		return false
	}
	t.Law, t.Low, t.High, t.Mean, t.Sigma = harness.Normal, t.is.min, t.is.max, m, x
	return fine
}
