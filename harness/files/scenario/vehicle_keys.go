package scenario

import (
	"math"

	"drystage/sim"
	"drystage/sim/quantity"
)

func length(min, max float64) qty  { return qty{quantity.Length, min, max} }
func seconds(min, max float64) qty { return qty{quantity.Time, min, max} }
func degrees(min, max float64) qty {
	return qty{quantity.Angle, min * math.Pi / 180, max * math.Pi / 180}
}

// nameLetters is the most letters of a name: the contract carries roles in 16 bytes.
const nameLetters = 16

var (
	stageWord   = name{[]string{"STAGE"}, nameLetters}
	profileWord = words{"square", "rounded", "airfoil"}                       // in order of sim.Profile
	shapeWord   = words{"ogive", "cone", "parabola", "ellipse", "von_karman"} // in order of sim.Shape
	partWord    = words{"drag", "charge", "motor", "gap"}                     // in order of sim.SeparationMode
)

// kindRow is the first key of every YAML file.
func kindRow(kind string) row {
	return row{key: "drystage", is: words{kind}, need: true, doc: "the kind of this file; the first key"}
}

var vehicleTable = &table{
	name: "a vehicle",
	doc:  "A rocket as its builder measured it: stages from top to bottom, launch rail and site.",
	rows: []row{
		kindRow("vehicle"),
		{key: "name", is: line{most: 60}, need: true, doc: "what the rocket is called"},
		{key: "stages", is: many{stageTable, 1, sim.MaxStages}, need: true, doc: "the stages, from top to bottom"},
		{key: "rail", is: railTable, need: true, doc: "the launch rail"},
		{key: "site", is: siteTable, need: true, doc: "where the rail stands, and the day there"},
	},
}

var stageTable = &table{
	name: "a stage",
	doc:  "One section that can fly by itself. Stations are measured aft from its front end.",
	rows: []row{
		{key: "name", is: stageWord, need: true, doc: "a word, such as booster"},
		{key: "length", is: length(0.02, 20), need: true, doc: "front end to rear end"},
		{key: "diameter", is: length(0.01, 2), need: true, doc: "the largest diameter"},
		{key: "mass", is: qty{quantity.Mass, 0.001, 1000}, need: true, doc: "all but the motor"},
		{key: "cg", is: length(0, 20), need: true, doc: "centre of gravity aft of the front end, without motor"},
		{key: "inertia", is: inertiaTable, doc: "moments of inertia about the centre of gravity, without motor; estimated from a solid cylinder when not given"},
		{key: "nose", is: noseTable, doc: "the nose; none for a blunt front"},
		{key: "transitions", is: many{transitionTable, 0, 16}, doc: "shoulders and boat-tails"},
		{key: "fins", is: many{finTable, 0, 8}, doc: "sets of equal fins"},
		{key: "drag", is: dragTable, need: true, doc: "drag of the stage flying alone"},
		{key: "stacked_drag", is: dragTable, doc: "drag of this stage with all stages above it, when it is the lowest; default as drag"},
		{key: "motor", is: mountTable, doc: "the motor and its igniter"},
		{key: "separation", is: separationTable, doc: "lower stages only: how it lets go of the stage above"},
		{key: "recovery", is: many{deviceTable, 0, 8}, doc: "parachutes and streamers"},
	},
}

var inertiaTable = &table{name: "an inertia", doc: "Measured moments of inertia.", rows: []row{
	{key: "axial", is: qty{quantity.Inertia, 1e-9, 1e5}, need: true, doc: "about the long axis"},
	{key: "transverse", is: qty{quantity.Inertia, 1e-9, 1e5}, need: true, doc: "about an axis across"},
}}

var noseTable = &table{name: "a nose", doc: "A nose.", rows: []row{
	{key: "shape", is: shapeWord, need: true, doc: "the shape of the nose"},
	{key: "length", is: length(0.005, 5), need: true, doc: "length of the nose"},
	{key: "diameter", is: length(0.01, 2), doc: "of its base; default the stage's"},
}}

var transitionTable = &table{name: "a transition", doc: "A conical change of diameter.", rows: []row{
	{key: "station", is: length(0, 20), need: true, doc: "its front"},
	{key: "length", is: length(0.001, 5), need: true, doc: "its length"},
	{key: "front", is: length(0.005, 2), need: true, doc: "diameter in front"},
	{key: "rear", is: length(0.005, 2), need: true, doc: "diameter at the rear"},
}}

var finTable = &table{name: "a fin set", doc: "A set of equal trapezoidal fins.", rows: []row{
	{key: "count", is: number{3, 8, true}, need: true, doc: "how many fins"},
	{key: "root", is: length(0.002, 5), need: true, doc: "chord at the body"},
	{key: "tip", is: length(0, 5), need: true, doc: "chord at the tip"},
	{key: "span", is: length(0.002, 3), need: true, doc: "body surface to tip"},
	{key: "sweep", is: length(-2, 5), need: true, doc: "root leading edge to tip leading edge, along the body"},
	{key: "thickness", is: length(1e-4, 0.1), need: true, doc: "thickness of a fin"},
	{key: "station", is: length(0, 20), need: true, doc: "the root's leading edge"},
	{key: "cant", is: degrees(-15, 15), def: "0 deg", doc: "angle to the body axis, all fins alike"},
	{key: "profile", is: profileWord, def: "square", doc: "for drag built up from the shape: square, edges as sawn; rounded, in front only; airfoil, tapered behind as well"},
}}

var dragTable = &table{name: "a drag", doc: "Drag: a coefficient `cd` on the largest cross-section, or a `table` of it against Mach number, or the `roughness` of the surface to have it built up from the shape: skin friction, nose, fins and base.", rows: []row{
	{key: "cd", is: number{min: 0.01, max: 5}, doc: "one coefficient for every Mach number"},
	{key: "table", is: many{dragPointTable, 1, 200}, doc: "rows with rising Mach number, joined by straight lines"},
	{key: "roughness", is: length(1e-7, 0.002), doc: "size of the surface's grains: 0.001 mm polished, 0.02 mm good paint, 0.06 mm plain paint, 0.2 mm as moulded (common practice, no source)"},
}}

var dragPointTable = &table{name: "a drag row", doc: "Cd at a Mach number.", rows: []row{
	{key: "mach", is: number{min: 0, max: 10}, need: true, doc: "Mach number"},
	{key: "cd", is: number{min: 0.01, max: 5}, need: true, doc: "drag coefficient"},
	{key: "power_on", is: number{min: 0.01, max: 5}, doc: "drag coefficient while a motor burns; default cd"},
}}

var mountTable = &table{name: "a motor", doc: "A motor in its stage.", rows: []row{
	{key: "file", is: ref{}, need: true, doc: "the motor's CSV file"},
	{key: "station", is: length(0, 20), need: true, doc: "front end of the motor"},
	{key: "igniter", is: igniterTable, def: "{}", doc: "the igniter"},
	{key: "count", is: number{1, sim.MaxCluster, true}, def: "1", doc: "motors of this kind in a cluster, all lit by the one igniter output; more than one needs circle"},
	{key: "circle", is: length(0.005, 2), doc: "of a cluster: diameter of the circle that the motors' axes stand on, evenly, the first towards the body's y axis"},
	{key: "misalignment", is: misalignTable, def: "{}", doc: "of the thrust"},
	{key: "pauses", is: many{pauseTable, 0, 8}, doc: "of a motor that chuffs: it goes out and lights again"},
	{key: "lit", is: anchor{}, doc: "when the builder means it to burn; the lowest stage's motor is lit at launch, every other needs it"},
}}

var misalignTable = &table{name: "a misalignment", doc: "How far the line of thrust is turned off the body's axis, at the nozzle.", rows: []row{
	{key: "angle", is: degrees(0, 10), def: "0 deg", doc: "the known part"},
	{key: "clock", is: degrees(-360, 360), def: "0 deg", doc: "where the known part points, from the body's y axis towards its z axis"},
	{key: "scatter", is: degrees(0, 3), def: "0 deg", doc: "the chance part, drawn once a run: one standard deviation in each of the two directions"},
}}

var pauseTable = &table{name: "a pause", doc: "A time in which a motor is out.", rows: []row{
	{key: "at", is: seconds(0.001, 600), need: true, doc: "after ignition, counted without earlier pauses"},
	{key: "for", is: seconds(0.01, 60), need: true, doc: "how long; then it goes on where it stopped"},
}}

var igniterTable = &table{name: "an igniter", doc: "An igniter takes a pulse of current, then lights its motor after a delay. The defaults are common practice, no source.", rows: []row{
	{key: "pulse", is: seconds(0, 5), def: "20 ms", doc: "least time that the output must be on"},
	{key: "delay", is: seconds(0, 30), def: "150 ms", doc: "from the pulse to the motor burning"},
	{key: "scatter", is: seconds(0, 5), def: "0 s", doc: "one standard deviation of the delay"},
}}

var separationTable = &table{name: "a separation", doc: "How a stage lets go of the one above it. The defaults are common practice, no source.", rows: []row{
	{key: "mode", is: partWord, def: "drag", doc: "drag: the stage slides off after its burnout; charge: an output fires it; motor: held until the upper motor lights; gap: its burnout lights the upper motor across the gap"},
	{key: "delay", is: seconds(0, 60), def: "0.3 s", doc: "by drag or gap: after burnout; by charge: from the output to the parting"},
	{key: "speed", is: qty{quantity.Speed, 0, 50}, def: "1 m/s", doc: "at which the two bodies part"},
}}

var deviceTable = &table{name: "a recovery device", doc: "A parachute or streamer: its drag area, or diameter and cd.", rows: []row{
	{key: "name", is: name{[]string{"DEVICE"}, nameLetters}, need: true, doc: "a word, such as drogue"},
	{key: "area", is: qty{quantity.Area, 1e-4, 500}, doc: "drag area Cd S, fully open"},
	{key: "diameter", is: length(0.02, 30), doc: "instead of area: of the flat canopy"},
	{key: "cd", is: number{min: 0.05, max: 5}, doc: "with diameter: drag coefficient on the flat canopy's area"},
	{key: "delay", is: seconds(0, 30), def: "100 ms", doc: "from output to line stretch"},
	{key: "pulse", is: seconds(0, 5), def: "20 ms", doc: "least time that the output must be on"},
	{key: "inflation", is: seconds(0, 30), def: "0.5 s", doc: "from line stretch to fully open, unless fill says it"},
	{key: "fill", is: number{min: 0.5, max: 50}, doc: "canopy fill constant: it is open after so many diameters of travel at the speed of line stretch, about 8 for a flat circular canopy of solid cloth; needs diameter"},
	{key: "growth", is: number{0, 3, true}, def: "0", doc: "power of time with which the drag area grows: 1 for slotted canopies, 2 for solid cloth; 0: a smooth curve"},
	{key: "snatch", is: snatchTable, doc: "the pull at line stretch; none when not given"},
	{key: "rated_speed", is: qty{quantity.Speed, 1, 1000}, doc: "the greatest airspeed at which it may be opened, default " + quantity.Text(sim.DefaultRated, quantity.Speed) + " (common practice, no source); beyond it a flight has left its model, whose canopies never tear"},
	{key: "opens", is: anchor{}, need: true, doc: "when the builder means it to open"},
}}

var snatchTable = &table{name: "a snatch", doc: "The pull of lines and shock cord at line stretch: they bring the packed canopy to the body's speed, as a spring that gives nothing back.", rows: []row{
	{key: "mass", is: qty{quantity.Mass, 0.001, 50}, need: true, doc: "of the packed canopy and all that flies off with it"},
	{key: "speed", is: qty{quantity.Speed, 0.1, 100}, need: true, doc: "at which it is thrown off"},
	{key: "load", is: qty{quantity.Force, 1, 1e5}, need: true, doc: "a load on lines and cord"},
	{key: "stretch", is: length(0.001, 10), need: true, doc: "how much longer they are under that load"},
}}

var railTable = &table{name: "a rail", doc: "The launch rail.", rows: []row{
	{key: "length", is: length(0.1, 50), need: true, doc: "travel until the rocket is free"},
	{key: "tilt", is: degrees(0, 60), def: "0 deg", doc: "from vertical"},
	{key: "azimuth", is: degrees(-360, 360), def: "0 deg", doc: "clockwise from north, the way it leans"},
	{key: "friction", is: number{min: 0, max: 0.5}, doc: "share of the force across the rail that brakes the rocket; default 0"},
	{key: "guides", is: guideTable, doc: "the rocket's two rail guides; without them it leaves the rail all at once, without tip-off"},
}}

var guideTable = &table{name: "a pair of guides", doc: "The two rail guides, buttons or lugs, nearest the ends.", rows: []row{
	{key: "fore", is: length(0, 40), need: true, doc: "aft of the nose's tip"},
	{key: "aft", is: length(0, 40), need: true, doc: "aft of the nose's tip; the last to leave the rail"},
}}

var siteTable = &table{name: "a site", doc: "The launch site.", rows: []row{
	{key: "latitude", is: degrees(-90, 90), need: true, doc: "north is positive"},
	{key: "longitude", is: degrees(-180, 180), need: true, doc: "east is positive"},
	{key: "elevation", is: length(-450, 6000), need: true, doc: "above mean sea level"},
	{key: "temperature", is: dayTemperature, doc: "at the pad; default the standard day's at the elevation"},
	{key: "pressure", is: dayPressure, doc: "station pressure at the pad, not reduced to sea level; default the standard day's at the elevation"},
}}

var (
	dayTemperature = qty{quantity.Temperature, 213.14999999999998, 333.15} // from what -60 degC is read as
	dayPressure    = qty{quantity.Pressure, 40000, 110000}
)
