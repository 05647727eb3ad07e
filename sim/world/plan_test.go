package world

import (
	"math"

	"drystage/sim"
)

const (
	ms     = sim.Millisecond
	degree = math.Pi / 180
)

// heron is an invented two-stage rocket with a board in each stage. Wires: sustainer 1 ignites, 2 and 3
// open drogue and main; booster 1 opens the streamer, 2 is a second wire to the drogue.
func heron() *sim.Setup {
	burn := func(force, long float64) []sim.ThrustPoint {
		return []sim.ThrustPoint{{T: 0, Thrust: 0}, {T: 0.05, Thrust: force}, {T: long - 0.1, Thrust: 0.8 * force}, {T: long, Thrust: 0}}
	}
	igniter := sim.Igniter{Pulse: 20 * ms, Delay: 150 * ms, Scatter: 20 * ms}
	device := func(name string, area float64, opens sim.Anchor) sim.Device {
		return sim.Device{Name: name, Area: area, Delay: 100 * ms, Pulse: 20 * ms, Inflation: 300 * ms, Opens: opens}
	}
	fins := func(size, station float64) []sim.Fins {
		return []sim.Fins{{Count: 3, Root: 2 * size, Tip: size, Span: 1.3 * size, Sweep: size, Thickness: 0.003, Station: station}}
	}
	stages := []sim.Stage{
		{
			Name: "sustainer", Length: 0.8, Diameter: 0.054, Mass: 0.55, CG: 0.4, Inertia: sim.Inertia{Axial: 2.4e-4, Transverse: 2.6e-2},
			Nose: sim.Nose{Length: 0.16}, Fins: fins(0.045, 0.7), Drag: sim.Drag{Cd: 0.55},
			Mount: sim.Mount{
				Motor:   sim.Motor{Thrust: burn(60, 1.6), Propellant: 0.042, Case: 0.058, Length: 0.124, Diameter: 0.029},
				Station: 0.67, Igniter: igniter, Lit: sim.Anchor{Event: "booster.burnout", Offset: 2 * sim.Second},
			},
			Recovery: []sim.Device{device("drogue", 0.08, sim.Anchor{Event: "apogee"}), device("main", 0.9, sim.Anchor{Event: low})},
		},
		{
			Name: "booster", Length: 0.46, Diameter: 0.054, Mass: 0.46, CG: 0.25, Inertia: sim.Inertia{Axial: 2.6e-4, Transverse: 9.5e-3},
			Fins: fins(0.06, 0.33), Drag: sim.Drag{Cd: 0.9}, Stacked: sim.Drag{Cd: 0.7},
			Mount:      sim.Mount{Motor: sim.Motor{Thrust: burn(110, 2), Propellant: 0.085, Case: 0.095, Length: 0.187, Diameter: 0.029}, Station: 0.27, Igniter: igniter},
			Separation: sim.Separation{Mode: sim.ByDrag, Delay: 300 * ms, Speed: 1},
			Recovery:   []sim.Device{device("streamer", 0.25, sim.Anchor{Event: "booster.apogee"})},
		},
	}
	drogue := sim.Effect{Kind: sim.Deploy, Stage: 0, Device: 0}
	return &sim.Setup{
		Seed: 1,
		Vehicle: sim.Vehicle{
			Name: "Heron", Stages: stages,
			Rail: sim.Rail{Length: 2, Tilt: 3 * degree},
			Site: sim.Site{Latitude: 47 * degree, Longitude: 8 * degree, Elevation: 450, Temperature: 288, Pressure: 96e3},
		},
		Wind: sim.Wind{Speed: 3, From: 270 * degree, Height: 10, Exponent: 0.143},
		Bays: []sim.Bay{
			{Name: "sustainer", Stage: 0, Station: 0.2, Sensors: sensors(200), Boot: 300 * ms, Wires: []sim.Wire{
				{Channel: 1, Name: "ignite", Effect: sim.Effect{Kind: sim.Ignite}},
				{Channel: 2, Name: "drogue", Effect: drogue},
				{Channel: 3, Name: "main", Effect: sim.Effect{Kind: sim.Deploy, Device: 1}},
				{Channel: 4, Name: "buzzer"},
			}},
			{Name: "booster", Stage: 1, Station: 0.1, Sensors: sensors(200), Boot: 300 * ms, Wires: []sim.Wire{
				{Channel: 1, Name: "streamer", Effect: sim.Effect{Kind: sim.Deploy, Stage: 1}},
				{Channel: 2, Name: "drogue", Effect: drogue},
			}},
		},
		Launch:    sim.Second,
		Until:     sim.Anchor{Event: sim.EventLanding, Offset: sim.Second},
		Limit:     200 * sim.Second,
		Crossings: []sim.Crossing{{Name: low, Quantity: sim.Height, Falling: true, Value: 150}},
	}
}

const low = "sustainer height falling through 150 m"

// sensors are a board's with the usual rates and the given one of accelerometer and gyro.
func sensors(hz float64) sim.Sensors {
	return sim.Sensors{
		Accel:   sim.Triad{Rate: hz, Range: 157, Resolution: 0.005, Noise: 0.05},
		Gyro:    sim.Triad{Rate: hz, Range: 35, Resolution: 0.001, Noise: 0.002},
		Baro:    sim.Barometer{Rate: 50, Min: 30e3, Max: 110e3, Resolution: 1, Noise: 3},
		GNSS:    sim.Receiver{Rate: 10, PositionNoise: 1.5, HeightNoise: 3, VelocityNoise: 0.1},
		Battery: sim.Battery{Rate: 10, Voltage: 7.4, Sag: 0.2, Noise: 0.01, Resolution: 0.01},
	}
}

// dummy replaces the boards: it switches outputs on after an event.
type dummy map[string]sim.Output

// flyer fires everything at the intended time.
var flyer = dummy{
	"booster.burnout": {Bay: 0, Channel: 1, On: true},
	"apogee":          {Bay: 0, Channel: 2, On: true},
	low:               {Bay: 0, Channel: 3, On: true},
	"booster.apogee":  {Bay: 1, Channel: 1, On: true},
}

// flown is a copy of all ticks of a run, with the states of the last one.
type flown struct {
	times  []sim.Time
	frames [][]sim.Frame
	active []uint64
	events []sim.Event
	last   []sim.State
}

func (r *flown) at(name string) sim.Time {
	t, ok := (sim.Anchor{Event: name}).In(r.events)
	if !ok {
		return sim.Never
	}
	return t
}

// fly runs a setup to its end.
func fly(s *sim.Setup, d dummy) *flown {
	w, r := New(s), new(flown)
	var outs []sim.Output
	for ok := true; ok; {
		var t *sim.Tick
		t, ok = w.Step(outs)
		r.times = append(r.times, t.Now)
		r.frames = append(r.frames, append([]sim.Frame(nil), t.Frames...))
		r.active = append(r.active, t.Active)
		r.events = append(r.events, t.Events...)
		r.last = append(r.last[:0], t.States...)
		outs = outs[:0]
		for _, e := range t.Events {
			if o, found := d[e.Name]; found {
				outs = append(outs, o)
			}
		}
	}
	return r
}
