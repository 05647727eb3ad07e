package examine

import (
	"io"

	"drystage/harness/logs"
	"drystage/harness/show/schema"
	"drystage/sim"
	"drystage/sim/quantity"
)

// JSON writes a result as one JSON object (RFC 8259), whose schema is Schema.
func JSON(w io.Writer, r *Result) error { return r.object().Write(w) }

// Schema is the JSON Schema of what JSON writes.
func Schema() ([]byte, error) {
	return schema.Text("drystage examine --format json", (&Result{Log: &logs.Log{}}).object())
}

const (
	withinDoc = "expanded uncertainty (k = 2) of it, s"
	beyondDoc = "share beyond 3 standard deviations; 0.0027 expected"
)

func (r *Result) object() schema.Object {
	from, to := r.Log.Span()
	top, at := r.Path.greatest()
	known := len(r.Path.T) > 0
	g, d := &r.Ground, &r.Touchdown
	return schema.Object{
		{"log", r.Log.Name, "the file that was read"},
		{"samples", r.Log.Samples(), "of all parts"},
		{"from_s", seconds(from), "the first sample, in the log's time"},
		{"until_s", seconds(to), "the last sample"},
		{"cropped", r.Cropped, "only a minute before liftoff and half an hour after it were looked at"},
		{"not_told", schema.Texts(r.Untold), "what the log does not tell, and why"},
		{"mended", noteTexts(r.Log), "in reading, with place and what was done"},
		{"phases", schema.List(r.Moments, r.momentObject), "in order of time"},
		{"greatest_height_m", schema.When(known, schema.Number(top)), "above the pad, smoothed"},
		{"greatest_height_at_s", schema.When(known, schema.Number(at)), "when that was"},
		{"touchdown", schema.When(d.Speed > 0, schema.Object{
			{"speed_m_s", schema.Number(d.Speed), "downwards"},
			{"within_m_s", schema.Number(d.Within), "expanded uncertainty (k = 2)"},
		}), "how fast it came down at last"},
		{"ground", schema.When(g.Pressure > 0, schema.Object{
			{"pressure_Pa", schema.Number(g.Pressure), "on the pad"},
			{"temperature_K", schema.Number(g.Temperature), "that heights assume"},
			{"temperature_from", g.Assumed, "where that is from"},
			{"elevation_m", schema.Number(g.Elevation), "above sea level"},
		}), "where heights are counted from"},
		{"findings", schema.List(r.Findings, r.findingObject), "what asks for an explanation, in order of time"},
		{"plan", schema.Texts(r.Plan), "what differs from the vehicle's plan"},
		{"fit", schema.ObjectIf(r.Fit, fitObject), "the flight against the vehicle's simulated one"},
		{"innovations", schema.List(r.Checks, checkObject), "of each sensor in the smoother: what it said beyond what was foretold, over what is expected"},
	}
}

func seconds(t sim.Time) *float64 { return schema.Number(t.Seconds()) }

func noteTexts(l *logs.Log) []string {
	out := []string{}
	for _, n := range l.Notes {
		out = append(out, n.String())
	}
	return out
}

func (r *Result) momentObject(m *Moment) schema.Object {
	h, v := r.motion(*m)
	return schema.Object{
		{"event", schema.OneOf(m.Event, Liftoff, Ignition, Burnout, Separation, Apogee, Deployment, Landing), "that begins a phase"},
		{"number", schema.OmitZero(m.Number), "of ignitions, burnouts and deployments, from 1"},
		{"at_s", schema.Number(m.At), "in the log's time"},
		{"within_s", schema.Number(m.Within), withinDoc},
		{"told_by", m.From, "which sensor"},
		{"height_m", schema.When(len(r.Path.T) > 0, schema.Number(h)), "above the pad, smoothed"},
		{"speed_m_s", schema.When(len(r.Path.T) > 0, schema.Number(v)), "upwards, smoothed"},
	}
}

func (r *Result) findingObject(f *Finding) schema.Object {
	part := "all"
	if f.Part > 0 {
		part = sim.PartNames()[f.Part-1]
	}
	unit := f.unit()
	var size, within *float64
	if f.Size != 0 {
		size, within = schema.Number(f.Size), schema.Number(f.SizeWithin)
	}
	return schema.Object{
		{"kind", schema.OneOf(f.Kind.String(), kindNames[:]...), "the shape of it"},
		{"part", schema.OneOf(part, append([]string{"all"}, sim.PartNames()...)...), "of the flight computer"},
		{"axis", schema.OmitZero(axisWord(f.Axis)), "in the log's own axes; none: all, or the part has none"},
		{"from_s", schema.Number(f.From), "in the log's time"},
		{"until_s", schema.Number(f.Until), "its end, or the log's"},
		{"within_s", schema.Number(f.Within), withinDoc},
		{"size", schema.OmitZero(size), "in `unit`: a peak, a shift, for a drift its rate, for a noise burst its standard deviation"},
		{"size_within", schema.OmitZero(within), "expanded uncertainty (k = 2) of it"},
		{"unit", schema.When(size != nil, unit), "of size"},
		{"strength", schema.OmitZero(schema.Number(f.Strength)), "in standard deviations; of what is stuck or silent in samples"},
		{"harm_m", schema.OmitZero(schema.Number(r.Harm(f))), "about how wrong a board would have been about its height that believed it"},
		{"real", f.Real(), "the likeliest explanation is something that happened to the rocket"},
		{"explanations", schema.List(f.Explanations, explanationObject), "the likeliest first"},
	}
}

func axisWord(a sim.Axis) string {
	if a == sim.AllAxes {
		return ""
	}
	return a.String()
}

func explanationObject(x *Explanation) schema.Object {
	return schema.Object{
		{"cause", schema.OneOf(x.Cause.String(), causeNames[:]...), "what was at work"},
		{"belief", schema.Number(x.Share), "share of it among the explanations listed; never more than 0.99"},
		{"for", schema.Texts(x.For), "what speaks for it, in numbers"},
		{"against", schema.Texts(x.Against), "what speaks against it"},
	}
}

func fitObject(f *Fit) schema.Object {
	return schema.Object{
		{"measured_m", schema.Number(f.Measured), "greatest height by the log"},
		{"predicted_m", schema.Number(f.Before), "by the vehicle as it is"},
		{"fitted_m", schema.Number(f.After), "by the vehicle with drag and thrust scaled"},
		{"drag_scale", schema.Number(f.Drag), "on every drag coefficient"},
		{"drag_within", schema.Number(f.DragWithin), "expanded uncertainty (k = 2)"},
		{"thrust_scale", schema.Number(f.Thrust), "on every thrust curve"},
		{"thrust_within", schema.Number(f.ThrustWithin), "expanded uncertainty (k = 2)"},
		{"rms_m_s", schema.Number(f.RMSBefore), "root mean square of the speed's difference on the way up"},
		{"fitted_rms_m_s", schema.Number(f.RMSAfter), "the same with drag and thrust scaled"},
	}
}

func checkObject(c *Check) schema.Object {
	part := ""
	if c.Part > 0 {
		part = sim.PartNames()[c.Part-1]
	}
	return schema.Object{
		{"part", part, "of the flight computer"},
		{"samples", c.N, "that the smoother took"},
		{"mean", schema.Number(c.Mean), "0 expected"},
		{"variance", schema.Number(c.Variance), "1 expected"},
		{"beyond_3_sigma", schema.Number(c.Beyond), beyondDoc},
	}
}

// unit is that of a finding's size.
func (f *Finding) unit() string {
	switch {
	case f.Kind == Latency || f.Kind == ClockJump:
		return "s"
	case f.Part == sim.PartBaro:
		return map[bool]string{false: "m", true: "m/s"}[f.Kind == Drift]
	}
	d := amounts[f.Part][0]
	if f.Kind == Drift {
		d = amounts[f.Part][1]
	}
	if u := quantity.Units(d); len(u) > 0 {
		return u[0]
	}
	return ""
}
