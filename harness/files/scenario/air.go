package scenario

import "math"

// standardAir gives temperature (K) and static pressure (Pa) of the standard day at an elevation in
// m above mean sea level, up to 11 km. Source: U.S. Standard Atmosphere, 1976, equations 18, 23 and
// 33a with the constants of its tables 2 and 4 (the same as ISO 2533): T = T0 + L H,
// p = p0 (T0/T)^(g0 M / R L), with geopotential height H = r z / (r + z).
func standardAir(elevation float64) (temperature, pressure float64) {
	const (
		t0    = 288.15    // K
		p0    = 101325    // Pa
		lapse = -0.0065   // K/m
		r     = 6356766   // m, radius of the earth
		g0    = 9.80665   // m/s2
		molar = 0.0289644 // kg/mol
		gas   = 8.31432   // J/(mol K), as the 1976 standard has it
	)
	h := r * elevation / (r + elevation)
	temperature = t0 + lapse*h
	return temperature, p0 * math.Pow(t0/temperature, g0*molar/(gas*lapse))
}
