package scenario

import (
	"drystage/sim"
	"drystage/sim/quantity"
)

// mostLevels is the most rows of winds aloft.
const mostLevels = 100

var (
	windSpeed = quantityShape{quantity.Speed, 0, 60}
	windFrom  = degrees(-360, 360)
)

// The seventh as exponent is common practice for open country, no source; 10 m is the height at which
// surface wind is measured (WMO-No. 8, from memory).
var windTable = blockOf("a wind", "A steady wind, with gusts and turbulence on top of it. The steady wind is a `speed` at a `height` that changes with height by a power law (`exponent`) or the logarithmic law (`roughness`), or a table of winds `aloft`.", func(w *sim.Wind) []row {
	return []row{
		{key: "speed", is: windSpeed, doc: "at `height`; required unless `aloft` is there", to: &w.Speed},
		{key: "from", is: windFrom, doc: "clockwise from north, where it comes from; required with `speed`", to: &w.From},
		{key: "height", is: length(0.5, 1000), def: "10 m", doc: "above ground, of `speed`", to: &w.Height},
		{key: "exponent", is: number{min: 0, max: 1}, def: "0.143", doc: "of the power law: speed (h/height)^exponent", typical: "0.1 over water, 0.143 open country, 0.2 to 0.3 trees and houses (common practice, no source)", to: &w.Exponent},
		{key: "roughness", is: length(1e-5, 2), doc: "roughness length z0 of the logarithmic law in place of the power law: speed ln(h/z0)/ln(height/z0); below `height`, at most half of it", typical: "0.03 m grass, 0.1 m crops, 0.5 to 1 m trees and houses (common practice, no source)", to: func(v value) { w.Roughness, w.Exponent = v.num(), 0 }},
		{key: "aloft", is: listShape{levelTable, 1, mostLevels}, doc: "in place of all keys above: the wind at rising heights; components change linearly between rows, and the first and last row hold below and above", to: func(v value) { w.Exponent = 0; listOf(&w.Aloft)(v) }},
		{key: "gusts", is: listShape{gustTable, 0, 32}, doc: "gusts", to: listOf(&w.Gusts)},
		{key: "turbulence", is: turbulenceTable, doc: "random turbulence, from the scenario's seed; none when not given", to: func(v value) { w.Turbulence.On = true; v.object().fill(&w.Turbulence) }},
	}
})

var turbulenceTable = blockOf("a turbulence", "Random turbulence by the Dryden model of MIL-F-8785C: by its low-altitude form below 1000 ft, blended into that for medium altitudes up to 2000 ft. The field is frozen over height and drawn from the seed; `{}` takes its intensity from the wind.", func(t *sim.Turbulence) []row {
	return []row{
		{key: "w20", is: quantityShape{quantity.Speed, 0.1, 60}, doc: "the wind at 20 ft (6.1 m) that sets the intensity below 1000 ft: rms up and down is a tenth of it; default that of the steady wind there", typical: "15 kn light, 30 kn moderate, 45 kn severe (MIL-F-8785C, as transcribed in open code that names it)", to: &t.W20},
		{key: "aloft", is: quantityShape{quantity.Speed, 0.01, 30}, doc: "rms of each component above 2000 ft; default a tenth of w20, as at 1000 ft", to: &t.Aloft},
	}
})

var levelTable = blockOf("a wind aloft", "The wind at one height above ground.", func(w *sim.WindLevel) []row {
	return []row{
		{key: "height", is: length(0, 50000), need: true, doc: "above ground", to: &w.Height},
		{key: "speed", is: quantityShape{quantity.Speed, 0, 120}, need: true, doc: "there", to: &w.Speed},
		{key: "from", is: windFrom, need: true, doc: "clockwise from north, where it comes from", to: &w.From},
	}
})

var gustTable = blockOf("a gust", "A 1-cosine gust met between two heights.", func(g *sim.Gust) []row {
	return []row{
		{key: "base", is: length(0, 50000), need: true, doc: "height above ground where it begins", to: &g.Base},
		{key: "length", is: length(0.1, 10000), need: true, doc: "its extent in height", to: &g.Length},
		{key: "peak", is: quantityShape{quantity.Speed, -60, 60}, need: true, doc: "its greatest speed", to: &g.Peak},
		{key: "from", is: windFrom, doc: "clockwise from north; default the wind's, required with `aloft`", to: &g.From},
	}
})
