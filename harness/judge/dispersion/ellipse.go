package dispersion

import "math"

// Ellipse is an ellipse on the ground that holds a share of the landings of further flights.
type Ellipse struct {
	East, North  float64 // m, its middle: the mean of the landings
	Major, Minor float64 // m, its half axes
	Bearing      float64 // rad clockwise from north, of the major axis, from 0 up to and without pi
}

// minScatter is the fewest landings from which an ellipse is computed.
const minScatter = 5

// Prediction gives the ellipse in which the next flight lands with a probability share, if landings scatter by a normal law in
// two dimensions whose mean and covariance are known from these points only: points with
// d' S^-1 d <= (n+1)(n-1)/n ((1-share)^(-2/(n-2)) - 1). That is 2 (n2-1)/(n (n-2)) F with the quantile of Fisher's
// distribution with 2 and n-2 degrees of freedom in closed form (Johnson and Wichern, Applied Multivariate Statistical
// Analysis, from memory); for many points it is -2 ln(1-share), that of Rayleigh's law. ok is false for fewer than five points.
func Prediction(points [][2]float64, share float64) (e Ellipse, ok bool) {
	n := float64(len(points))
	if len(points) < minScatter || !(share > 0 && share < 1) {
		return e, false
	}
	for _, p := range points {
		e.East, e.North = e.East+p[0]/n, e.North+p[1]/n
	}
	var xx, xy, yy float64 // of the covariance
	for _, p := range points {
		x, y := p[0]-e.East, p[1]-e.North
		xx, xy, yy = xx+x*x/(n-1), xy+x*y/(n-1), yy+y*y/(n-1)
	}
	if math.IsNaN(xx+xy+yy) || math.IsInf(xx+xy+yy, 0) {
		return e, false
	}
	size := (n + 1) * (n - 1) / n * (math.Pow(1-share, -2/(n-2)) - 1)
	middle, half := (xx+yy)/2, math.Hypot((xx-yy)/2, xy)
	e.Major, e.Minor = math.Sqrt(size*(middle+half)), math.Sqrt(size*max(0, middle-half))
	// The angle of the major axis from east, counterclockwise, is half of atan2(2 xy, xx - yy).
	e.Bearing = math.Mod(math.Pi/2-math.Atan2(2*xy, xx-yy)/2+math.Pi, math.Pi)
	return e, true
}

// Inside says that a place lies in the ellipse.
func (e *Ellipse) Inside(p [2]float64) bool {
	x, y := p[0]-e.East, p[1]-e.North
	s, c := math.Sincos(e.Bearing)
	along, across := x*s+y*c, x*c-y*s
	return (along/e.Major)*(along/e.Major)+(across/e.Minor)*(across/e.Minor) <= 1
}

// Outline gives points of the ellipse, m east and north.
func (e *Ellipse) Outline(n int) (points [][2]float64) {
	s, c := math.Sincos(e.Bearing)
	for i := range n {
		y, x := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		along, across := e.Major*x, e.Minor*y
		points = append(points, [2]float64{e.East + along*s + across*c, e.North + along*c - across*s})
	}
	return points
}
