package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/plain"
)

// Constants of the US Standard Atmosphere 1976 (NASA-TM-X-74335).
const (
	gasConstant   = 8314.32 / 28.9644 // J/(kg K), R*/M0
	heatRatio     = 1.4
	standardG     = 9.80665   // m/s2
	standardR     = 6356766.0 // m, radius for geopotential height
	standardPress = sim.StandardPressure
	soundFactor   = heatRatio * gasConstant
)

// band is one layer of the standard: its base in geopotential metres, the temperature there in K and
// the lapse rate in K/m.
type band struct{ base, temperature, lapse float64 }

var bands = [...]band{
	{0, 288.15, -0.0065}, {11000, 216.65, 0}, {20000, 216.65, 0.001}, {32000, 228.65, 0.0028},
	{47000, 270.65, 0}, {51000, 270.65, -0.0028}, {71000, 214.65, -0.002},
}

const (
	airBottom = -500.0  // m from the site; below, the air is as at this height
	airTop    = 84852.0 // m geopotential; above, the air is as at this height
	airCell   = 200.0   // m, about the width of a cell of the table
)

// Air is the still air over a site: the US Standard Atmosphere 1976 with its temperature profile
// shifted to the temperature at the pad, and its pressure in hydrostatic balance from the pressure
// at the pad. It is a table of cubics within 1e-8 of the closed forms. Temperature is the standard's
// molecular-scale temperature, which up to 80 km equals the kinetic temperature.
type Air struct {
	layers []airLayer
	cells  []airCubics
}

// airLayer is a range of height above the site cut into equal cells.
type airLayer struct {
	base, perCell float64 // m above the site; cells per m
	first, last   int     // into Air.cells
}

// airCubics holds, for one cell, the coefficients in x from 0 to 1 across it. Slowness is 1 over the speed of
// sound, in s/m.
type airCubics struct{ density, slowness, temperature, pressure [4]float64 }

// Weather is the air at one height.
type Weather struct {
	Pressure    float64 // Pa
	Temperature float64 // K
	Density     float64 // kg/m3
	Sound       float64 // m/s
}

// Viscosity gives the dynamic viscosity in Pa s by Sutherland's formula (US Standard Atmosphere 1976, eq. 51).
// Divided by Density it is the kinematic viscosity.
func (w Weather) Viscosity() float64 { return viscosity(w.Temperature) }

func viscosity(t float64) float64 { return 1.458e-6 * t * math.Sqrt(t) / (t + 110.4) }

// NewAir makes the table for a site. A temperature or pressure of 0 means the standard's value at the site's
// elevation.
func NewAir(site sim.Site) *Air {
	c := newColumn(site)
	a := &Air{}
	foot := airBottom
	for i := range bands {
		head := airTop
		if i+1 < len(bands) {
			head = bands[i+1].base
		}
		top := geometric(head) - c.elevation
		if top <= foot {
			continue
		}
		a.addLayer(&c, foot, top)
		foot = top
	}
	return a
}

// At gives the air at a height in m above the site.
func (a *Air) At(height float64) Weather {
	c, x := a.cell(height)
	t := cubic(&c.temperature, x)
	return Weather{Pressure: cubic(&c.pressure, x), Temperature: t, Density: cubic(&c.density, x), Sound: math.Sqrt(float64(soundFactor * t))}
}

// top is the height in m above the site at which the table ends.
func (a *Air) top() float64 {
	l := &a.layers[len(a.layers)-1]
	return l.base + float64(l.last-l.first)/l.perCell
}

// cell finds the cubics for a height, and the position in their cell from 0 to 1.
func (a *Air) cell(height float64) (*airCubics, float64) {
	i := 0
	for i+1 < len(a.layers) && height >= a.layers[i+1].base {
		i++
	}
	l := &a.layers[i]
	x := float64((height - l.base) * l.perCell)
	n := float64(l.last - l.first)
	switch {
	case !(x > 0):
		x = 0
	case x > n:
		x = n
	}
	k := int(x)
	if k >= l.last-l.first {
		k = l.last - l.first - 1
	}
	return &a.cells[l.first+k], x - float64(k)
}

// cubic evaluates a cubic. The two halves of the sum don't depend on each other, so the processor overlaps them.
func cubic(c *[4]float64, x float64) float64 {
	return (c[0] + float64(x*c[1])) + float64(float64(x*x)*(c[2]+float64(x*c[3])))
}

// addLayer cuts one band of the column, from base to top in m above the site, into cells.
func (a *Air) addLayer(c *column, base, top float64) {
	n := int(math.Ceil((top - base) / airCell))
	width := (top - base) / float64(n)
	l := airLayer{base: base, perCell: 1 / width, first: len(a.cells), last: len(a.cells) + n}
	middle := base + float64(0.5*width)
	b := c.bandOf(geopotential(c.elevation + middle))
	near := *c // starts at the base of the band, so that not every cell integrates from the site
	if at := bands[b].base; at > c.siteGeopotential {
		near.siteGeopotential, near.pressure = at, c.pressureAt(at)
	}
	low := near.sample(base, b)
	for i := 1; i <= n; i++ {
		high := near.sample(base+float64(float64(i)*width), b)
		var k airCubics
		for q, to := range [...]*[4]float64{&k.temperature, &k.density, &k.pressure, &k.slowness} {
			*to = hermite(low.value[q], high.value[q], float64(low.slope[q]*width), float64(high.slope[q]*width))
		}
		a.cells = append(a.cells, k)
		low = high
	}
	a.layers = append(a.layers, l)
}

// hermite gives the cubic on 0 to 1 with these values and slopes at its ends.
func hermite(a, b, da, db float64) [4]float64 {
	return [4]float64{a, da, float64(3*(b-a)) - float64(2*da) - db, float64(2*(a-b)) + (da + db)}
}

// geopotential turns a geometric height above mean sea level into a geopotential one, in m.
func geopotential(z float64) float64 { return float64(standardR*z) / (standardR + z) }

// geometric is the inverse of geopotential.
func geometric(h float64) float64 { return float64(standardR*h) / (standardR - h) }

// column is the closed form of the air over a site, from which the table is made.
type column struct {
	elevation, siteGeopotential float64 // m, geometric and geopotential height of the site
	pressure, shift             float64 // Pa at the site; K added to the standard profile
}

func newColumn(site sim.Site) column {
	c := column{elevation: clamp(site.Elevation, -5000, 80000)}
	c.siteGeopotential = geopotential(c.elevation)
	if c.pressure = site.Pressure; c.pressure <= 0 {
		sea := column{pressure: standardPress}
		c.pressure = sea.pressureAt(c.siteGeopotential)
	}
	if site.Temperature > 0 {
		c.shift = clamp(site.Temperature-c.temperatureAt(c.siteGeopotential, c.bandOf(c.siteGeopotential)), -100, 100)
	}
	return c
}

// bandOf gives the index of the standard's layer at a geopotential height.
func (c *column) bandOf(h float64) int {
	i := 0
	for i+1 < len(bands) && h >= bands[i+1].base {
		i++
	}
	return i
}

func (c *column) temperatureAt(h float64, b int) float64 {
	return bands[b].temperature + float64(bands[b].lapse*(h-bands[b].base)) + c.shift
}

// pressureAt goes from the site to a geopotential height layer by layer (US 1976 eq. 33a, 33b).
func (c *column) pressureAt(h float64) float64 {
	p, at := c.pressure, c.siteGeopotential
	for at != h {
		b := c.bandOf(at)
		end := h
		switch {
		case h > at && b+1 < len(bands):
			end = math.Min(h, bands[b+1].base)
		case h < at:
			if at == bands[b].base && b > 0 {
				b--
			}
			if b > 0 {
				end = math.Max(h, bands[b].base)
			}
		}
		p, at = float64(p*c.ratio(at, end, b)), end
	}
	return p
}

// ratio is the pressure at geopotential height h divided by that at g, both in band b.
func (c *column) ratio(g, h float64, b int) float64 {
	t, lapse := c.temperatureAt(g, b), bands[b].lapse
	if lapse == 0 {
		return plain.Exp(-standardG * (h - g) / (gasConstant * t))
	}
	return plain.Exp(-standardG / (gasConstant * lapse) * plain.Log(c.temperatureAt(h, b)/t))
}

// airSample holds temperature, density, pressure and slowness, and their derivatives by geometric height.
type airSample struct{ value, slope [4]float64 }

// sample evaluates the column at a height above the site, as part of band b.
func (c *column) sample(height float64, b int) airSample {
	z := c.elevation + height
	h := geopotential(z)
	t, p := c.temperatureAt(h, b), c.pressureAt(h)
	rho := p / (gasConstant * t)
	stretch := standardR / (standardR + z)
	stretch = float64(stretch * stretch) // dH/dZ
	dt := bands[b].lapse * stretch
	dp := -rho * standardG * stretch
	slow := 1 / math.Sqrt(float64(soundFactor*t))
	return airSample{value: [4]float64{t, rho, p, slow}, slope: [4]float64{dt, float64(rho * (dp/p - dt/t)), dp, -0.5 * slow * dt / t}}
}

func clamp(x, low, high float64) float64 { return math.Min(math.Max(x, low), high) }

// smoothStep rises from 0 at 0 to 1 at 1, with slope 0 at both ends.
func smoothStep(x float64) float64 {
	x = clamp(x, 0, 1)
	return float64(float64(x*x) * (3 - float64(2*x)))
}
