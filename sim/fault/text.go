package fault

import (
	"strconv"
	"strings"

	"drystage/sim"
)

// Text prints a fault on one line with the words of scenario files, such as
// "spike sustainer.accelerometer x from booster.burnout + 0.01 s for 0.06 s by -100 m/s2". Defaults (the start
// of the run, no end, all axes) are left out.
func Text(f sim.Fault, s *sim.Setup) string {
	words := []string{kindWord(f.Kind), target(&f, s)}
	if (threeAxis(f.Part) && f.Kind.Layer() == sim.OnSensor || f.Kind == sim.TipOff) && f.Axis > sim.AllAxes && f.Axis <= sim.AxisZ {
		words = append(words, f.Axis.String())
	}
	if f.Motor > 0 {
		words = append(words, "motor", strconv.Itoa(f.Motor))
	}
	if f.From != (sim.Anchor{}) {
		words = append(words, "from", f.From.String())
	}
	if f.Duration != 0 {
		words = append(words, "for", f.Duration.Exact())
	}
	if u, is := unit(&f); is {
		words = append(words, "by", strconv.FormatFloat(f.Value, 'g', -1, 64))
		if u != "" {
			words = append(words, u)
		}
	}
	if f.Speed != 0 {
		words = append(words, "at", strconv.FormatFloat(f.Speed, 'g', -1, 64), "m/s")
	}
	if f.Times > 1 {
		words = append(words, strconv.Itoa(f.Times), "times every", f.Every.Exact())
	}
	return strings.Join(words, " ")
}

func kindWord(k sim.FaultKind) string {
	if k == sim.NoFault || int(k) > len(sim.FaultKinds()) {
		return "nothing"
	}
	return k.String()
}

// target names what the fault applies to: STAGE, STAGE.DEVICE, BOARD, BOARD.PART or BOARD.OUTPUT.
func target(f *sim.Fault, s *sim.Setup) string {
	if f.Kind.Layer() == sim.OnVehicle {
		if f.Stage >= 0 && f.Stage < len(s.Vehicle.Stages) {
			st := &s.Vehicle.Stages[f.Stage]
			if f.Kind.OfDevice() && f.Device >= 0 && f.Device < len(st.Recovery) {
				return st.Name + "." + st.Recovery[f.Device].Name
			}
			return st.Name
		}
		return "stage" + strconv.Itoa(f.Stage)
	}
	bay := "bay" + strconv.Itoa(f.Bay)
	if f.Bay >= 0 && f.Bay < len(s.Bays) {
		bay = s.Bays[f.Bay].Name
	}
	if f.Kind.Layer() == sim.OnWire && f.Bay >= 0 && f.Bay < len(s.Bays) {
		for _, w := range s.Bays[f.Bay].Wires {
			if w.Channel == f.Channel {
				return bay + "." + w.Name
			}
		}
		return bay + ".channel" + strconv.Itoa(f.Channel)
	}
	if f.Kind.Layer() != sim.OnSensor || partBit(f.Part) == 0 {
		return bay
	}
	return bay + "." + f.Part.String()
}

func threeAxis(p sim.Part) bool {
	return p.Axes() || p == sim.PartGNSS
}

// unit gives the SI unit of a fault's value, empty for a plain number; is says whether the kind has a value.
func unit(f *sim.Fault) (symbol string, is bool) {
	units, rates := [...]string{"", "m/s2", "rad/s", "Pa", "m", "V", "T"}, [...]string{"", "m/s3", "rad/s2", "Pa/s", "m/s", "V/s", "T/s"}
	switch f.Kind {
	case sim.LateIgniter, sim.Delayed, sim.Jittered, sim.VentBlocked:
		return "s", true
	case sim.BrownOut:
		return "V", true
	case sim.HeightLimit:
		return "m", true
	case sim.TipOff:
		return "rad/s", true
	case sim.HighTilt:
		return "rad", true
	case sim.NoseLost:
		return "kg", true
	case sim.Stale, sim.Scaled, sim.Extreme, sim.BayLeak, sim.ClockError, sim.BitsFlipped, sim.BytesLost, sim.FramesCut,
		sim.ImpulseError, sim.BurnTimeError:
		return "", true
	case sim.Spike, sim.Step, sim.NoiseBurst, sim.Clipped:
		if partBit(f.Part) != 0 {
			return units[f.Part], true
		}
	case sim.Drift:
		if partBit(f.Part) != 0 {
			return rates[f.Part], true
		}
	}
	return "", false
}
