package scenario

import (
	"math"

	"drystage/sim"
	"drystage/sim/quantity"
)

func length(min, max float64) quantityShape  { return quantityShape{quantity.Length, min, max} }
func seconds(min, max float64) quantityShape { return quantityShape{quantity.Time, min, max} }
func degrees(min, max float64) quantityShape {
	return quantityShape{quantity.Angle, min * math.Pi / 180, max * math.Pi / 180}
}

// nameLetters is the most letters of a name: the contract carries roles in 16 bytes.
const nameLetters = 16

var (
	stageWord      = name{[]string{"STAGE"}, nameLetters}
	profileWord    = words{"square", "rounded", "airfoil"}                       // in order of sim.Profile
	shapeWord      = words{"ogive", "cone", "parabola", "ellipse", "von_karman"} // in order of sim.Shape
	separationWord = words{"drag", "charge", "motor", "gap"}                     // in order of sim.SeparationMode
)

// kindRow is the first key of every YAML file.
func kindRow(kind string) row {
	return row{key: "drystage", is: words{kind}, need: true, doc: "the kind of this file; the first key"}
}

var vehicleTable = blockOf("a vehicle", "A rocket as its builder measured it: stages from top to bottom, launch rail and site.", func(v *sim.Vehicle) []row {
	return []row{
		kindRow("vehicle"),
		{key: "name", is: textLine{most: 60}, need: true, doc: "what the rocket is called", to: &v.Name},
		{key: "stages", is: listShape{stageTable, 1, sim.MaxStages}, need: true, doc: "the stages, from top to bottom"},
		{key: "rail", is: railTable, need: true, doc: "the launch rail", to: &v.Rail},
		{key: "site", is: siteTable, need: true, doc: "where the rail stands, and the day there", to: &v.Site},
		{key: "vibration", is: vibrationTable, def: "{}", doc: "of the airframe while a motor burns; what a part feels of it is its `transmissibility`", to: &v.Vibration},
	}
})

var vibrationTable = blockOf("a vibration", "How the airframe shakes while a motor burns. Sizes are shares of thrust over mass, the acceleration that the motor gives.", func(v *sim.Vibration) []row {
	return []row{
		{key: "share", is: number{min: 0, max: 5}, def: "5 %", doc: "one standard deviation of the broadband part on each axis", typical: "2 to 30 %" + commonPractice, to: &v.Share},
		{key: "band", is: hertz(20000), def: "1 kHz", doc: "at which its spectrum, flat below, has fallen to half the power", typical: "0.5 to 2 kHz" + commonPractice, to: &v.Band},
		{key: "tones", is: listShape{toneTable, 0, 4}, doc: "tones of the motors; default none", to: listOf(&v.Tones)},
	}
})

var toneTable = blockOf("a tone", "A tone along the rocket's axis, with harmonics: number h has 1/h of its amplitude. Beyond half the rate of a part it shows where it folds to.", func(t *sim.Tone) []row {
	return []row{
		{key: "frequency", is: hertz(20000), need: true, doc: "of the fundamental", typical: "speed of sound in the chamber, about 1000 m/s, over twice its length (Sutton and Biblarz, Rocket Propulsion Elements, from memory): 500 Hz of 1 m", to: &t.Frequency},
		{key: "share", is: number{min: 0, max: 5}, def: "2 %", doc: "root mean square of the fundamental", typical: "1 to 10 %" + commonPractice, to: &t.Share},
		{key: "harmonics", is: number{1, 8, true}, def: "2", doc: "how many frequencies, the fundamental counted", to: &t.Harmonics},
		{key: "wander", is: number{min: 0, max: 0.3}, def: "2 %", doc: "one standard deviation of the frequency, relative", typical: "1 to 5 %" + commonPractice, to: &t.Wander},
		{key: "time", is: seconds(0.01, 60), def: "0.2 s", doc: "after which the frequency has wandered: its correlation time", to: &t.Time},
	}
})

var stageTable = blockOf("a stage", "One section that can fly by itself. Stations are measured aft from its front end.", func(s *sim.Stage) []row {
	return []row{
		{key: "name", is: stageWord, need: true, doc: "a word, such as booster", to: &s.Name},
		{key: "length", is: length(0.02, 20), need: true, doc: "front end to rear end", to: &s.Length},
		{key: "diameter", is: length(0.01, 2), need: true, doc: "the largest diameter", to: &s.Diameter},
		{key: "mass", is: quantityShape{quantity.Mass, 0.001, 1000}, need: true, doc: "all but the motor", to: &s.Mass},
		{key: "cg", is: length(0, 20), need: true, doc: "centre of gravity aft of the front end, without motor", to: &s.CG},
		{key: "inertia", is: inertiaTable, doc: "moments of inertia about the centre of gravity, without motor; estimated from a solid cylinder when not given", to: &s.Inertia},
		{key: "nose", is: noseTable, doc: "the nose; none for a blunt front", to: func(n value) { s.Nose.Diameter = s.Diameter; n.object().fill(&s.Nose) }},
		{key: "transitions", is: listShape{transitionTable, 0, 16}, doc: "shoulders and boat-tails", to: listOf(&s.Transitions)},
		{key: "fins", is: listShape{finTable, 0, 8}, doc: "sets of equal fins", to: listOf(&s.Fins)},
		{key: "drag", is: dragTable, need: true, doc: "drag of the stage flying alone", to: &s.Drag},
		{key: "stacked_drag", is: dragTable, doc: "drag of this stage with all stages above it, when it is the lowest; default as drag", to: &s.Stacked},
		{key: "motor", is: mountTable, doc: "the motor and its igniter", to: &s.Mount},
		{key: "separation", is: separationTable, doc: "lower stages only: how it lets go of the stage above", to: &s.Separation},
		{key: "recovery", is: listShape{deviceTable, 0, 8}, doc: "parachutes and streamers", to: listOf(&s.Recovery)},
	}
})

var inertiaTable = blockOf("an inertia", "Measured moments of inertia.", func(i *sim.Inertia) []row {
	return []row{
		{key: "axial", is: quantityShape{quantity.Inertia, 1e-9, 1e5}, need: true, doc: "about the long axis", to: &i.Axial},
		{key: "transverse", is: quantityShape{quantity.Inertia, 1e-9, 1e5}, need: true, doc: "about an axis across", to: &i.Transverse},
	}
})

var noseTable = blockOf("a nose", "A nose.", func(n *sim.Nose) []row {
	return []row{
		{key: "shape", is: shapeWord, need: true, doc: "the shape of the nose", to: enum(&n.Shape, shapeWord)},
		{key: "length", is: length(0.005, 5), need: true, doc: "length of the nose", to: &n.Length},
		{key: "diameter", is: length(0.01, 2), doc: "of its base; default the stage's", to: &n.Diameter},
	}
})

var transitionTable = blockOf("a transition", "A conical change of diameter.", func(t *sim.Transition) []row {
	return []row{
		{key: "station", is: length(0, 20), need: true, doc: "its front", to: &t.Station},
		{key: "length", is: length(0.001, 5), need: true, doc: "its length", to: &t.Length},
		{key: "front", is: length(0.005, 2), need: true, doc: "diameter in front", to: &t.Front},
		{key: "rear", is: length(0.005, 2), need: true, doc: "diameter at the rear", to: &t.Rear},
	}
})

var finTable = blockOf("a fin set", "A set of equal trapezoidal fins.", func(f *sim.Fins) []row {
	return []row{
		{key: "count", is: number{3, 8, true}, need: true, doc: "how many fins", to: &f.Count},
		{key: "root", is: length(0.002, 5), need: true, doc: "chord at the body", to: &f.Root},
		{key: "tip", is: length(0, 5), need: true, doc: "chord at the tip", to: &f.Tip},
		{key: "span", is: length(0.002, 3), need: true, doc: "body surface to tip", to: &f.Span},
		{key: "sweep", is: length(-2, 5), need: true, doc: "root leading edge to tip leading edge, along the body", to: &f.Sweep},
		{key: "thickness", is: length(1e-4, 0.1), need: true, doc: "thickness of a fin", to: &f.Thickness},
		{key: "station", is: length(0, 20), need: true, doc: "the root's leading edge", to: &f.Station},
		{key: "cant", is: degrees(-15, 15), def: "0 deg", doc: "angle to the body axis, all fins alike", to: &f.Cant},
		{key: "profile", is: profileWord, def: "square", doc: "for drag built up from the shape: square, edges as sawn; rounded, in front only; airfoil, tapered behind as well", to: enum(&f.Profile, profileWord)},
	}
})

var dragTable = blockOf("a drag", "Drag: a coefficient `cd` on the largest cross-section, or a `table` of it against Mach number, or the `roughness` of the surface to have it built up from the shape: skin friction, nose, fins and base.", func(d *sim.Drag) []row {
	return []row{
		{key: "cd", is: number{min: 0.01, max: 5}, doc: "one coefficient for every Mach number", to: &d.Cd},
		{key: "table", is: listShape{dragPointTable, 1, 200}, doc: "rows with rising Mach number, joined by straight lines", to: listOf(&d.Points)},
		{key: "roughness", is: length(1e-7, 0.002), doc: "size of the surface's grains: 0.001 mm polished, 0.02 mm good paint, 0.06 mm plain paint, 0.2 mm as moulded (common practice, no source)", to: func(v value) { d.Built, d.Roughness = true, v.num() }},
	}
})

var dragPointTable = blockOf("a drag row", "Cd at a Mach number.", func(p *sim.DragPoint) []row {
	return []row{
		{key: "mach", is: number{min: 0, max: 10}, need: true, doc: "Mach number", to: &p.Mach},
		{key: "cd", is: number{min: 0.01, max: 5}, need: true, doc: "drag coefficient", to: &p.Cd},
		{key: "power_on", is: number{min: 0.01, max: 5}, doc: "drag coefficient while a motor burns; default cd", to: &p.PowerOn},
	}
})

var mountTable = blockOf("a motor", "A motor in its stage.", func(m *sim.Mount) []row {
	return []row{
		{key: "file", is: filePath{}, need: true, doc: "the motor's CSV file"},
		{key: "station", is: length(0, 20), need: true, doc: "front end of the motor", to: &m.Station},
		{key: "igniter", is: igniterTable, def: "{}", doc: "the igniter", to: &m.Igniter},
		{key: "count", is: number{1, sim.MaxCluster, true}, def: "1", doc: "motors of this kind in a cluster, all lit by the one igniter output; more than one needs circle", to: &m.Count},
		{key: "circle", is: length(0.005, 2), doc: "of a cluster: diameter of the circle that the motors' axes stand on, evenly, the first towards the body's y axis", to: func(v value) { m.Radius = v.num() / 2 }},
		{key: "misalignment", is: misalignTable, def: "{}", doc: "of the thrust", to: &m.Misalignment},
		{key: "pauses", is: listShape{pauseTable, 0, 8}, doc: "of a motor that chuffs: it goes out and lights again", to: listOf(&m.Pauses)},
		{key: "lit", is: anchor{}, doc: "when the builder means it to burn; the lowest stage's motor is lit at launch, every other needs it"},
	}
})

var misalignTable = blockOf("a misalignment", "How far the line of thrust is turned off the body's axis, at the nozzle.", func(m *sim.Misalignment) []row {
	return []row{
		{key: "angle", is: degrees(0, 10), def: "0 deg", doc: "the known part", to: &m.Angle},
		{key: "clock", is: degrees(-360, 360), def: "0 deg", doc: "where the known part points, from the body's y axis towards its z axis", to: &m.Clock},
		{key: "scatter", is: degrees(0, 3), def: "0 deg", doc: "the chance part, drawn once a run: one standard deviation in each of the two directions", to: &m.Scatter},
	}
})

var pauseTable = blockOf("a pause", "A time in which a motor is out.", func(p *sim.Pause) []row {
	return []row{
		{key: "at", is: seconds(0.001, 600), need: true, doc: "after ignition, counted without earlier pauses", to: &p.At},
		{key: "for", is: seconds(0.01, 60), need: true, doc: "how long; then it goes on where it stopped", to: &p.For},
	}
})

var igniterTable = blockOf("an igniter", "An igniter takes a pulse of current, then lights its motor after a delay. The defaults are common practice, no source.", func(i *sim.Igniter) []row {
	return []row{
		{key: "pulse", is: seconds(0, 5), def: "20 ms", doc: "least time that the output must be on", to: &i.Pulse},
		{key: "delay", is: seconds(0, 30), def: "150 ms", doc: "from the pulse to the motor burning", to: &i.Delay},
		{key: "scatter", is: seconds(0, 5), def: "0 s", doc: "one standard deviation of the delay", to: &i.Scatter},
	}
})

var separationTable = blockOf("a separation", "How a stage lets go of the one above it. The defaults are common practice, no source.", func(s *sim.Separation) []row {
	return []row{
		{key: "mode", is: separationWord, def: "drag", doc: "drag: the stage slides off after its burnout; charge: an output fires it; motor: held until the upper motor lights; gap: its burnout lights the upper motor across the gap", to: enum(&s.Mode, separationWord)},
		{key: "delay", is: seconds(0, 60), def: "0.3 s", doc: "by drag or gap: after burnout; by charge: from the output to the parting", to: &s.Delay},
		{key: "speed", is: quantityShape{quantity.Speed, 0, 50}, def: "1 m/s", doc: "at which the two bodies part", to: &s.Speed},
		{key: "push", is: pushTime, doc: "how long the force takes that parts them, half a sine wave; default 30 ms by drag, 10 ms by charge, 50 ms by motor or gap", to: &s.Shock.Push},
		{key: "shock", is: shockTable, def: "{}", doc: "how the structure rings; by drag, motor or gap only when given", to: &s.Shock},
	}
})

var deviceTable = blockOf("a recovery device", "A parachute or streamer: its drag area, or diameter and cd.", func(d *sim.Device) []row {
	return []row{
		{key: "name", is: name{[]string{"DEVICE"}, nameLetters}, need: true, doc: "a word, such as drogue", to: &d.Name},
		{key: "area", is: quantityShape{quantity.Area, 1e-4, 500}, doc: "drag area Cd S, fully open", to: &d.Area},
		{key: "diameter", is: length(0.02, 30), doc: "instead of area: of the flat canopy", to: &d.Diameter},
		{key: "cd", is: number{min: 0.05, max: 5}, doc: "with diameter: drag coefficient on the flat canopy's area"},
		{key: "delay", is: seconds(0, 30), def: "100 ms", doc: "from output to line stretch", to: &d.Delay},
		{key: "pulse", is: seconds(0, 5), def: "20 ms", doc: "least time that the output must be on", to: &d.Pulse},
		{key: "inflation", is: seconds(0, 30), def: "0.5 s", doc: "from line stretch to fully open, unless fill says it", to: &d.Inflation},
		{key: "fill", is: number{min: 0.5, max: 50}, doc: "canopy fill constant: it is open after so many diameters of travel at the speed of line stretch, about 8 for a flat circular canopy of solid cloth; needs diameter", to: &d.Fill},
		{key: "growth", is: number{0, 3, true}, def: "0", doc: "power of time with which the drag area grows: 1 for slotted canopies, 2 for solid cloth; 0: a smooth curve", to: &d.Growth},
		{key: "opening_force", is: number{min: 1, max: 2.5}, def: "1.7", doc: "opening force coefficient: the greatest drag area, just after it is full, over the steady one, as for a canopy that doesn't slow its load while it fills: 1.7 flat circular, 1.6 hemispherical, 1.2 cross, 1.05 ribbon or ringslot (Knacke, from memory); 1 for a streamer", to: &d.OpeningForce},
		{key: "snatch", is: snatchTable, doc: "the pull at line stretch, at the front end of the stage; default a pack of 80 g for each m2 of drag area, at least 10 g, at 8 m/s, on lines that 300 N make 0.5 m longer (common practice, no source)", to: &d.Snatch},
		{key: "push", is: pushTime, def: "3 ms", doc: "how long its charge pushes: the pack's momentum, the other way, in half a sine wave (common practice, no source)", to: &d.Shock.Push},
		{key: "shock", is: shockTable, def: "{}", doc: "how the structure rings when its charge fires", to: &d.Shock},
		{key: "swing", is: swingTable, def: "{}", doc: "how unsteadily it flies (`drystage explain swing`)", to: &d.Swing},
		{key: "rated_speed", is: quantityShape{quantity.Speed, 1, 1000}, doc: "the greatest airspeed at which it may be opened, default " + quantity.Text(sim.DefaultRated, quantity.Speed) + " (common practice, no source); beyond it a flight has left its model, whose canopies never tear", to: &d.Rated},
		{key: "opens", is: anchor{}, need: true, doc: "when the builder means it to open"},
	}
})

var pushTime = seconds(0.001, 1)

var shockTable = blockOf("a shock", "The shock of a charge to the structure, as every accelerometer of the body feels it: a damped vibration along the axis, and half as much across. The defaults are common practice, no source.", func(s *sim.Pyroshock) []row {
	return []row{
		{key: "peak", is: quantityShape{quantity.Acceleration, 0, 1e5}, def: "400 m/s2", doc: "at first; 0: it doesn't ring", typical: "100 to 1000 m/s2 in a bay of a model or high-power rocket", to: &s.Peak},
		{key: "ring", is: quantityShape{quantity.Frequency, 20, 5000}, def: "170 Hz", doc: "frequency of the vibration", to: &s.Ring},
		{key: "decay", is: seconds(0.001, 1), def: "8 ms", doc: "after which it has fallen by a factor of e", to: &s.Decay},
		{key: "offset", is: length(0, 1), def: "2 mm", doc: "how far the push is off the body's axis: it turns the body", to: &s.Offset},
	}
})

var swingTable = blockOf("a swing", "The unsteadiness of a canopy with the body below it, drawn from the seed, also in still air. It begins at line stretch; the largest open device of a body sets it.", func(w *sim.Swing) []row {
	return []row{
		{key: "angle", is: degrees(0, 45), def: "8 deg", doc: "rms lean of canopy and body in each of two directions: about 0.7 of its usual amplitude", typical: "7 to 28 deg of flat circular canopies, at most 4 deg of slotted or cross-shaped ones (Knacke, NWC TP 6575, table 5-1, from memory)", to: &w.Angle},
		{key: "lines", is: length(1, 100), def: "3 m", doc: "from the canopy to the body's centre of gravity: the length of the pendulum", typical: "lines of 1 to 1.5 diameters and a cord of 3 to 5 body lengths" + commonPractice, to: &w.Lines},
		{key: "spin", is: quantityShape{quantity.AngularRate, 0, 20}, def: "40 deg/s", doc: "one standard deviation of the rate at which the body turns about its axis", typical: "10 to 180 deg/s" + commonPractice, to: &w.Spin},
		{key: "shake", is: number{min: 0, max: 0.5}, def: "0.05", doc: "rms share by which the drag changes as vortices leave the canopy", typical: "0.02 to 0.1" + commonPractice, to: &w.Shake},
	}
})

var snatchTable = blockOf("a snatch", "The pull of lines and shock cord at line stretch: they bring the packed canopy to the body's speed, as a spring that gives nothing back.", func(s *sim.Snatch) []row {
	return []row{
		{key: "mass", is: quantityShape{quantity.Mass, 0.001, 50}, need: true, doc: "of the packed canopy and all that flies off with it", to: &s.Mass},
		{key: "speed", is: quantityShape{quantity.Speed, 0.1, 100}, need: true, doc: "at which it is thrown off", to: &s.Speed},
		{key: "load", is: quantityShape{quantity.Force, 1, 1e5}, need: true, doc: "a load on lines and cord", to: &s.Stiffness},
		{key: "stretch", is: length(0.001, 10), need: true, doc: "how much longer they are under that load", to: func(v value) { s.Stiffness /= v.num() }},
	}
})

var groundTable = blockOf("the ground", "How the ground stops what lands: as a spring that gives nothing back. The defaults are common practice, no source.", func(g *sim.Ground) []row {
	return []row{
		{key: "load", is: quantityShape{quantity.Force, 1, 1e8}, def: "1000 N", doc: "a load on the end that touches", to: &g.Stiffness},
		{key: "gives", is: length(1e-4, 1), def: "20 mm", doc: "how far it sinks in under that load: 20 mm in firm soil, 200 mm in snow, 1 mm on concrete", to: func(v value) { g.Stiffness /= v.num() }},
		{key: "friction", is: number{min: 0, max: 2}, def: "0.5", doc: "of a body that wind in its canopy drags along", to: &g.Friction},
	}
})

var railTable = blockOf("a rail", "The launch rail.", func(r *sim.Rail) []row {
	return []row{
		{key: "length", is: length(0.1, 50), need: true, doc: "travel until the rocket is free", to: &r.Length},
		{key: "tilt", is: degrees(0, 60), def: "0 deg", doc: "from vertical", to: &r.Tilt},
		{key: "azimuth", is: degrees(-360, 360), def: "0 deg", doc: "clockwise from north, the way it leans", to: &r.Azimuth},
		{key: "friction", is: number{min: 0, max: 0.5}, doc: "share of the force across the rail that brakes the rocket; default 0", to: &r.Friction},
		{key: "guides", is: guideTable, doc: "the rocket's two rail guides; without them it leaves the rail all at once, without tip-off", to: &r.Guides},
	}
})

var guideTable = blockOf("a pair of guides", "The two rail guides, buttons or lugs, nearest the ends.", func(g *[2]float64) []row {
	return []row{
		{key: "fore", is: length(0, 40), need: true, doc: "aft of the nose's tip", to: &g[0]},
		{key: "aft", is: length(0, 40), need: true, doc: "aft of the nose's tip; the last to leave the rail", to: &g[1]},
	}
})

var siteTable = blockOf("a site", "The launch site.", func(s *sim.Site) []row {
	return []row{
		{key: "latitude", is: degrees(-90, 90), need: true, doc: "north is positive", to: &s.Latitude},
		{key: "longitude", is: degrees(-180, 180), need: true, doc: "east is positive", to: &s.Longitude},
		{key: "elevation", is: length(-450, 6000), need: true, doc: "above mean sea level", to: func(v value) {
			s.Elevation = v.num()
			s.Temperature, s.Pressure = standardAir(s.Elevation)
		}},
		{key: "geoid", is: length(-110, 90), def: "0 m", doc: "height of mean sea level above the WGS 84 ellipsoid, the same over a flight: a GNSS height above the ellipsoid is larger by it", typical: "-107 to 86 m (EGM 96, from memory); 47 m in the Alps", to: &s.Geoid},
		{key: "temperature", is: dayTemperature, doc: "at the pad; default the standard day's at the elevation", to: &s.Temperature},
		{key: "pressure", is: dayPressure, doc: "station pressure at the pad, not reduced to sea level; default the standard day's at the elevation", to: &s.Pressure},
		{key: "ground", is: groundTable, def: "{}", doc: "what rockets land on", to: &s.Ground},
		{key: "magnetic_field", is: magneticTable, doc: "the earth's, for boards with a magnetometer; default that of the World Magnetic Model (WMM2025) at the beginning of 2025", to: &s.Magnetic},
	}
})

var magneticTable = blockOf("a magnetic field", "The earth's magnetic field at the site, as a model or a survey gives it. It keeps its direction over a flight, and falls off with height as that of a dipole.", func(m *sim.MagneticField) []row {
	return []row{
		{key: "strength", is: quantityShape{quantity.FluxDensity, 1e-6, 1e-4}, need: true, doc: "of the whole field", typical: "22 to 67 uT (WMM2025)", to: &m.Strength},
		{key: "inclination", is: degrees(-90, 90), need: true, doc: "below the horizon; negative in the south", to: &m.Inclination},
		{key: "declination", is: degrees(-180, 180), need: true, doc: "of its level part from north, east is positive", to: &m.Declination},
	}
})

var (
	dayTemperature = quantityShape{quantity.Temperature, 213.14999999999998, 333.15} // from what -60 degC is read as
	dayPressure    = quantityShape{quantity.Pressure, 40000, 110000}
)
