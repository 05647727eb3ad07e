package fault

import (
	"strconv"
	"strings"

	"drystage/sim"
)

// Text prints a fault on one line with the words of scenario files, such as
// "spike sustainer.accelerometer x from booster.burnout + 0.010 s for 0.060 s by -100 m/s2". What is
// at its default, the start of the run, no end or all axes, is left out.
func Text(f sim.Fault, s *sim.Setup) string {
	words := []string{kindWord(f.Kind), target(&f, s)}
	if threeAxis(f.Part) && f.Kind.Layer() == sim.OnSensor && f.Axis > sim.AllAxes && f.Axis <= sim.AxisZ {
		words = append(words, f.Axis.String())
	}
	if f.Motor > 0 {
		words = append(words, "motor", strconv.Itoa(f.Motor))
	}
	if f.From != (sim.Anchor{}) {
		words = append(words, "from", anchor(f.From))
	}
	if f.Duration != 0 {
		words = append(words, "for", span(f.Duration))
	}
	if u := unit(&f); u != "" {
		words = append(words, "by", strconv.FormatFloat(f.Value, 'g', -1, 64), u)
	}
	return strings.Join(words, " ")
}

func kindWord(k sim.FaultKind) string {
	if k == sim.NoFault || int(k) > len(sim.FaultKinds()) {
		return "nothing"
	}
	return k.String()
}

// target names what is spoilt: STAGE, BOARD or BOARD.PART.
func target(f *sim.Fault, s *sim.Setup) string {
	if f.Kind.Layer() == sim.OnVehicle {
		if f.Stage >= 0 && f.Stage < len(s.Vehicle.Stages) {
			return s.Vehicle.Stages[f.Stage].Name
		}
		return "stage" + strconv.Itoa(f.Stage)
	}
	bay := "bay" + strconv.Itoa(f.Bay)
	if f.Bay >= 0 && f.Bay < len(s.Bays) {
		bay = s.Bays[f.Bay].Name
	}
	if f.Kind == sim.PowerCut || parts(f.Part) == 0 {
		return bay
	}
	return bay + "." + f.Part.String()
}

func threeAxis(p sim.Part) bool {
	return p == sim.PartAccel || p == sim.PartGyro || p == sim.PartGNSS
}

// anchor prints an instant, as "apogee - 0.500 s".
func anchor(a sim.Anchor) string {
	event := a.Event
	if event == "" {
		event = sim.EventStart
	}
	switch {
	case a.Offset > 0:
		return event + " + " + span(a.Offset)
	case a.Offset < 0:
		return event + " - " + span(-a.Offset)
	}
	return event
}

// span prints a time to the millisecond, or as finely as it is.
func span(t sim.Time) string {
	if t%sim.Millisecond == 0 {
		return t.String()
	}
	return strconv.FormatFloat(t.Seconds(), 'f', -1, 64) + " s"
}

// unit gives the SI unit of a fault's value, or nothing when it has none.
func unit(f *sim.Fault) string {
	units, rates := [...]string{"", "m/s2", "rad/s", "Pa", "m", "V"}, [...]string{"", "m/s3", "rad/s2", "Pa/s", "m/s", "V/s"}
	switch f.Kind {
	case sim.LateIgniter:
		return "s"
	case sim.Spike, sim.Step, sim.NoiseBurst:
		if parts(f.Part) != 0 {
			return units[f.Part]
		}
	case sim.Drift:
		if parts(f.Part) != 0 {
			return rates[f.Part]
		}
	}
	return ""
}
