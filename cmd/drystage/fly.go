package main

import (
	"cmp"
	"io"
	"math"
	"path/filepath"
	"strings"

	"drystage/harness/files/scenario"
	"drystage/harness/files/suite"
	"drystage/harness/show/vehicle"
	"drystage/sim"
	"drystage/sim/quantity"
)

type flyCmd struct {
	File        string  `arg:"" predictor:"file" help:"A vehicle, or a scenario whose vehicle, site and weather are flown."`
	Wind        string  `placeholder:"SPEED" help:"Wind at 10 m above ground, such as \"5 m/s\"; default calm, or the scenario's."`
	WindFrom    string  `placeholder:"ANGLE" help:"Where the wind comes from, clockwise from north; default 270 deg, or the scenario's."`
	Temperature string  `placeholder:"T" help:"Of the air at the pad, such as \"-5 degC\"; default the file's."`
	Pressure    string  `placeholder:"P" help:"Of the air at the pad, not reduced to sea level, such as \"960 hPa\"; default the file's."`
	RailTilt    string  `placeholder:"ANGLE" help:"The rail's, from vertical; default the file's."`
	RailAzimuth string  `placeholder:"ANGLE" help:"The way that the rail leans, clockwise from north; default the file's."`
	Seed        *uint64 `placeholder:"N" help:"Seed of all that scatters: igniter delays, motors, thrust lines; default 1, or the scenario's."`
	CSV         string  `name:"csv" placeholder:"FILE" help:"Write the whole truth as a table: each stage's state at each instant, units in the header."`
	Every       string  `default:"10 ms" placeholder:"SPAN" help:"Time from row to row of --csv (${default})."`
	Plot        string  `placeholder:"FILE" help:"Draw height, speed and acceleration of each stage against time, with the events; an .svg file."`
	HTML        string  `name:"html" placeholder:"FILE" help:"Write a page: the vehicle drawn to scale with its measures and static margins, the flight, the landings on a map, the warnings."`
}

// Help is what `drystage fly --help` says below the flags' summary.
func (flyCmd) Help() string {
	return `No board takes part and nothing fails: motors light and devices open when the vehicle's file means
them to. A scenario's boards, commands, faults and expectations are left out; use "drystage bench" for them.

Printed are the events, how the rocket leaves the rail and how stable it is, what each stage does and
where it lands, and warnings where the model or usual safety limits are left. The exit status is 0 with
warnings too: they are for you to judge.

The table of --csv has a row for each stage and instant, and "body" names the stages that fly as one with
it. Times count from the launch. World axes are east, north, up from where the rocket stood; body axes are x
to the nose, y left, z back, seen by someone facing the rocket on its pad; the attitude is the quaternion that
turns body axes into world axes. Specific force is what an ideal accelerometer at the centre of gravity reads.

Examples:
  drystage fly scenarios/vehicles/dunlin.yaml --wind "5 m/s" --plot flight.svg
  drystage fly scenarios/gusty-wind.yaml --csv truth.csv`
}

// Run flies the file's setup without boards and tells the flight in figures.
func (c *flyCmd) Run(d *console) error {
	if c.Plot != "" && !strings.EqualFold(filepath.Ext(c.Plot), ".svg") {
		return wrongUse("--plot %s: found extension %q, wanted .svg", c.Plot, filepath.Ext(c.Plot))
	}
	sheet := evidencePage{file: c.HTML}
	every, err := c.every()
	if err = cmp.Or(err, sheet.check()); err != nil {
		return err
	}
	j, err := c.input(d)
	if err != nil {
		return err
	}
	if err := c.override(j); err != nil {
		return err
	}
	o := newIdealFlight(j.set)
	curves := newCurves(j.set)
	if c.CSV == "" {
		o.fly(curves.add, sim.Never, nil)
	} else if err := writeWhole(c.CSV, func(w io.Writer) error {
		t := newTruthTable(w, o)
		o.fly(curves.add, every, t.add)
		return t.close()
	}); err != nil {
		return wrongUse("--csv %s: %w", c.CSV, err)
	}
	if c.Plot != "" {
		if err := writeWhole(c.Plot, func(w io.Writer) error { return curves.draw(w, o.events) }); err != nil {
			return wrongUse("--plot %s: %w", c.Plot, err)
		}
	}
	if c.HTML != "" {
		if err := sheet.writeOf(d, "text", func(w io.Writer) error { return vehicle.Write(w, flightPage(j, o, curves)) }); err != nil {
			return err
		}
	}
	_, err = io.WriteString(d.out, flightText(j, o))
	return err
}

func (c *flyCmd) every() (sim.Time, error) {
	x, err := quantity.Parse(c.Every, quantity.Time)
	if err != nil {
		return 0, wrongUse("--every: %v", err)
	}
	if x < 0.0001 || x > 60 {
		return 0, wrongUse("--every: found %s, wanted from 0.1 ms to 60 s", c.Every)
	}
	return sim.Seconds(x), nil
}

// flightInput is what is to be flown.
type flightInput struct {
	set      *sim.Setup
	scenario string // its title; empty for a vehicle alone
	faults   int    // of the scenario, left out
}

// A vehicle without a scenario is launched after a while, since anchors may be before the launch, and simulated for an
// hour.
const (
	flyLaunch = 5 * sim.Second
	flyLimit  = 3600 * sim.Second
)

// input reads the file.
func (c *flyCmd) input(d *console) (*flightInput, error) {
	f, kind, err := c.kind(d)
	if err != nil {
		return nil, err
	}
	if kind == "scenario" {
		p, problems := scenario.Load(f.FS, f.Name)
		if len(problems) > 0 {
			return nil, problemsError(problems)
		}
		if p.Log.File != "" {
			return nil, wrongUse("%s plays the flight log %s instead of a simulated flight; fly its vehicle's file", c.File, p.Log.File)
		}
		return &flightInput{&p.Setup, p.Title, len(p.Setup.Faults)}, nil
	}
	v, crossings, problems := scenario.LoadVehicle(f.FS, f.Name)
	if len(problems) > 0 {
		return nil, problemsError(problems)
	}
	return &flightInput{set: &sim.Setup{Seed: 1, Vehicle: v, Crossings: crossings, Launch: flyLaunch, Limit: flyLimit,
		Wind: sim.Wind{From: 1.5 * math.Pi, Height: 10, Exponent: 0.143}}}, nil
}

// kind finds the file and says what it is; files of other kinds than a vehicle and a scenario are wrong.
func (c *flyCmd) kind(d *console) (f suite.File, kind string, err error) {
	f, info, err := suite.Locate(c.File, d.err)
	switch {
	case err != nil:
		return f, "", wrongUse("no vehicle or scenario %s: %s; a shipped one is scenarios/vehicles/dunlin.yaml", c.File, suite.Cause(err))
	case info.IsDir():
		return f, "", wrongUse("%s is a folder; fly takes one vehicle or scenario", c.File)
	}
	kind, problems := scenario.Kind(f.FS, f.Name)
	switch {
	case len(problems) > 0:
		return f, "", problemsError(problems)
	case kind == scenario.Foreign && scenario.IsTable(f.Name):
		return f, "", wrongUse("%s is a table; fly takes a vehicle, which names its motors, or a scenario", c.File)
	case kind != scenario.Foreign && kind != "vehicle" && kind != "scenario":
		return f, "", wrongUse("%s is a %s's file; fly takes a vehicle, which names its motors, or a scenario", c.File, kind)
	}
	return f, kind, nil
}

// override replaces values of the file by those of the command line.
func (c *flyCmd) override(j *flightInput) error {
	s := j.set
	if c.Seed != nil {
		s.Seed = *c.Seed
	}
	if c.WindFrom != "" && c.Wind == "" && s.Wind.Speed == 0 {
		return wrongUse("--wind-from %s without a wind; give --wind too", c.WindFrom)
	}
	if c.Wind != "" {
		if len(s.Wind.Aloft) > 0 { // one profile: that of the command line
			s.Wind.Aloft, s.Wind.From, s.Wind.Exponent = nil, 1.5*math.Pi, 0.143
		}
		s.Wind.Height = 10
	}
	for _, o := range []struct {
		flag, text, block, key string // of the scenario key that the flag stands in for
		to                     *float64
	}{
		{"--wind", c.Wind, "wind", "speed", &s.Wind.Speed},
		{"--wind-from", c.WindFrom, "wind", "from", &s.Wind.From},
		{"--temperature", c.Temperature, "weather", "temperature", &s.Vehicle.Site.Temperature},
		{"--pressure", c.Pressure, "weather", "pressure", &s.Vehicle.Site.Pressure},
		{"--rail-tilt", c.RailTilt, "rail", "tilt", &s.Vehicle.Rail.Tilt},
		{"--rail-azimuth", c.RailAzimuth, "rail", "azimuth", &s.Vehicle.Rail.Azimuth},
	} {
		if o.text == "" {
			continue
		}
		what, least, most := scenario.Range(o.block, o.key)
		x, err := quantity.Parse(o.text, what)
		if err != nil {
			return wrongUse("%s: %v", o.flag, err)
		}
		if x < least || x > most {
			return wrongUse("%s: found %s, wanted from %s to %s", o.flag, o.text, quantity.Text(least, what), quantity.Text(most, what))
		}
		*o.to = x
	}
	return nil
}
