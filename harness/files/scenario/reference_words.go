package scenario

import (
	"fmt"
	"strings"

	"drystage/harness/reference"
	"drystage/sim"
	"drystage/sim/quantity"
)

// named makes a page of things that have no keys: rows of a name, what it means and an example.
func named(name, doc string, rows ...[3]string) reference.Page {
	p := reference.Page{Name: name, Doc: doc}
	for _, r := range rows {
		p.Blocks = append(p.Blocks, reference.Block{Path: name + "." + r[0], Doc: r[1], Example: r[2]})
	}
	return p
}

func eventsPage() reference.Page {
	return named("events", `When something happens: from of a fault, at of a command, from and to of an expectation.
EVENT, EVENT + SPAN, EVENT - SPAN, or SPAN alone, counted from the start of the run.
A fault before its event takes the time from a rehearsal: a flight without boards in which
everything happens when the builder means it to. What a board or the operator does has none.`,
		[3]string{sim.EventStart, "the run begins, the rocket on the pad", "at: start + 2 s"},
		[3]string{sim.EventLaunch, "the launch controller fires the igniter of the lowest motor", "from: launch - 1 s"},
		[3]string{sim.EventLiftoff, "the rocket moves", "from: liftoff + 0.5 s"},
		[3]string{sim.EventRailExit, "it leaves the rail", "event: rail_exit"},
		[3]string{sim.EventSeparation, "the first two stages part", "happens: separation"},
		[3]string{sim.EventMaxQ, "the greatest dynamic pressure; known afterwards, so that no fault can start at it but by a rehearsal", "event: max_q"},
		[3]string{sim.EventApogee, "the top of the flight of the body with the nose", "to: apogee + 1 s"},
		[3]string{sim.EventLanding, "the last body touches the ground", "until: landing + 1 s"},
		[3]string{"STAGE." + sim.StageIgnition, "a motor of the stage burns", "happens: sustainer.ignition"},
		[3]string{"STAGE." + sim.StageBurnout, "its motor has burned out", "from: booster.burnout + 1.5 s"},
		[3]string{"STAGE." + sim.StageSeparation, "the stage parts from the one above", "event: booster.separation"},
		[3]string{"STAGE." + sim.StageApogee, "the top of its own flight", "from: booster.apogee - 0.5 s"},
		[3]string{"STAGE." + sim.StageLanding, "it touches the ground", "event: booster.landing"},
		[3]string{"STAGE.DEVICE", "line stretch of a recovery device", "happens: sustainer.main"},
		[3]string{"rising", "[STAGE] QUANTITY rising through VALUE: a quantity of a stage passes a value upwards; `rising above` means the same", "from: height rising through 300 m"},
		[3]string{"falling", "[STAGE] QUANTITY falling through VALUE: it passes a value downwards; `falling below` means the same", "from: sustainer height falling through 175 m"},
		[3]string{"output", "output BOARD.OUTPUT: a board switches an output on", "after: output sustainer.ignite"},
		[3]string{"command", "command arm, command disarm, command stage: the operator gives a command", "after: command stage"})
}

func quantitiesPage() reference.Page {
	p := reference.Page{Name: "quantities", Doc: "What expectations and crossings measure of a stage: [STAGE] QUANTITY, without a stage that of the body with the nose or of the output's board."}
	for i, word := range sim.Quantities() {
		q := sim.Quantity(i + 1)
		p.Blocks = append(p.Blocks, reference.Block{Path: "quantities." + word, Example: quantityTexts[q][1],
			Doc: fmt.Sprintf("%s; %s (%s)", quantityTexts[q][0], dimension(q), strings.Trim(strings.Join(quantity.Units(dimension(q)), ", "), ", "))})
	}
	return p
}

// quantityTexts says what each quantity is, with an example.
var quantityTexts = map[sim.Quantity][2]string{
	sim.Height:          {"above the pad, along the plumb line", "{event: apogee, quantity: sustainer height, at_least: 300 m}"},
	sim.Airspeed:        {"speed through the air that moves with the wind", "{never: sustainer.drogue, while: sustainer airspeed above 50 m/s}"},
	sim.Speed:           {"speed over the ground, in all directions", "from: sustainer speed falling below 20 m/s"},
	sim.Climb:           {"speed upwards", "from: sustainer climb falling below 5 m/s"},
	sim.Descent:         {"speed downwards", "{event: sustainer.landing, quantity: sustainer descent, at_most: 9 m/s}"},
	sim.Tilt:            {"angle between the long axis and the vertical", "{firing: sustainer.ignite, quantity: tilt, at_most: 20 deg}"},
	sim.Mach:            {"airspeed by the speed of sound", "from: sustainer mach rising through 0.8"},
	sim.Acceleration:    {"size of the specific force that an accelerometer feels; at rest 9.8 m/s2", "from: sustainer acceleration rising above 50 m/s2"},
	sim.DynamicPressure: {"half the density of the air times the square of the airspeed", "{event: max_q, quantity: dynamic_pressure, at_most: 20 kPa}"},
}

func warningsPage() reference.Page {
	p := reference.Page{Name: "warnings", Doc: `What is said of a flight itself, by fly and with each verdict. Of some the flight has left its model, and what it
shows may not be so: the verdict is unsure, unless the scenario names it under accepts. Of the others a figure is
beyond codes or practice: they are told and change no verdict.`}
	for _, k := range sim.WarningKinds() {
		effect, example := "it is told and changes no verdict", ""
		if k.OutsideModel() {
			effect, example = "the flight has left its model: the verdict is unsure", "accepts: ["+k.String()+"]"
		}
		p.Blocks = append(p.Blocks, reference.Block{Path: "warnings." + k.String(), Doc: fmt.Sprintf("%s; %s (limit: %s)", k.Text(), effect, k.Basis()), Example: example})
	}
	return p
}

func unitsPage() reference.Page {
	p := reference.Page{Name: "units", Doc: "The units of each quantity in files and flags. A number without its unit is refused, but for plain numbers."}
	for _, d := range quantity.Dimensions() {
		u := quantity.Units(d)
		p.Blocks = append(p.Blocks, reference.Block{Path: "units." + dimensionWord(d), Doc: strings.Trim(strings.Join(u, ", "), ", "), Example: strings.TrimSpace("5 " + u[0])})
	}
	return p
}
