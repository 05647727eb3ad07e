package chart

import (
	"encoding/xml"
	"io"
	"math"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"drystage/sim"
)

// curve draws a curve of 1 to 300 points a second apart or less.
func curve(t *rapid.T) Line {
	var l Line
	at := rapid.Float64Range(-100, 100).Draw(t, "begins")
	for _, x := range rapid.SliceOfN(rapid.Float64Range(-1e3, 1e3), 1, 300).Draw(t, "values") {
		l.Add(at, x)
		at += rapid.Float64Range(0.01, 1).Draw(t, "step")
	}
	return l
}

// value is the height of a curve at a time on straight lines between its points.
func value(l Line, t float64) float64 {
	for i := 0; i+1 < l.Len(); i++ {
		if l.T[i] <= t && t <= l.T[i+1] {
			return l.between(i, t)
		}
	}
	return l.X[l.Len()-1]
}

// A thinned curve keeps its ends and its extremes, and its order.
func TestThinKeepsPeaks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l, n := curve(t), rapid.IntRange(1, 20).Draw(t, "n")
		got := l.Thin(n)
		require.LessOrEqual(t, got.Len(), max(4*(n+1), 4))
		ends(t, l, got)
		low, high, _ := l.Range()
		gotLow, gotHigh, ok := got.Range()
		require.True(t, ok)
		require.Equal(t, [2]float64{low, high}, [2]float64{gotLow, gotHigh})
	})
}

// ends wants the ends of a curve kept, and times that rise.
func ends(t require.TestingT, l, got Line) {
	require.Equal(t, [2]float64{l.T[0], l.X[0]}, [2]float64{got.T[0], got.X[0]})
	require.Equal(t, [2]float64{l.T[l.Len()-1], l.X[l.Len()-1]}, [2]float64{got.T[got.Len()-1], got.X[got.Len()-1]})
	for i := 1; i < got.Len(); i++ {
		require.Greater(t, got.T[i], got.T[i-1])
	}
}

// No point of a straightened curve lies further off than it may.
func TestStraightenKeepsTheDistance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l, off := curve(t), rapid.Float64Range(0, 500).Draw(t, "off")
		got := l.Straighten(off)
		ends(t, l, got)
		for i, at := range l.T {
			require.InDelta(t, l.X[i], value(got, at), off+1e-6)
		}
	})
	var ramp Line
	for i := range 1000 {
		ramp.Add(float64(i), math.Abs(float64(i)-500))
	}
	assert.Equal(t, 3, ramp.Straighten(1e-9).Len(), "a ramp up and one down have three points")
}

// A clipped curve ends where it is cut, and is the same in between.
func TestClip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := curve(t)
		from := rapid.Float64Range(-150, 150).Draw(t, "from")
		until := from + rapid.Float64Range(-1, 200).Draw(t, "for")
		got := l.Clip(from, until)
		first, last := l.T[0], l.T[l.Len()-1]
		if until < first || from > last || until < from {
			require.Zero(t, got.Len())
			return
		}
		if got.Len() == 0 {
			t.Fatalf("nothing from %v to %v of %v", from, until, l.T)
		}
		require.InDelta(t, max(from, first), got.T[0], 1e-9)
		require.InDelta(t, min(until, last), got.T[got.Len()-1], 1e-9)
		for i, at := range got.T {
			require.InDelta(t, value(l, at), got.X[i], 1e-6)
			require.True(t, i == 0 || at > got.T[i-1])
		}
	})
}

func TestMarks(t *testing.T) {
	at := func(s float64) sim.Time { return sim.Seconds(s) }
	events := []sim.Event{
		{Name: sim.EventStart}, {Name: sim.EventLaunch, At: at(1)}, {Name: "apogee", At: at(3)}, {Name: "top.apogee", At: at(3)},
		{Name: "top.drogue", At: at(3)}, {Name: "top height falling through 150 m", At: at(4)}, {Name: "max_q", At: at(5)},
	}
	assert.Equal(t, []Mark{{2, "top.apogee"}, {2, "top.drogue"}, {4, "max_q"}}, Marks(events, at(1)))
	v := &sim.Vehicle{Stages: []sim.Stage{{Name: "top"}, {Name: "low"}}}
	assert.InDelta(t, 2.2, Ascent(v, events, at(1)), 1e-9)
	assert.Zero(t, Ascent(v, nil, 0))
}

// Names above a panel don't lie on each other, nor on the lines that lead to others; they are inside the picture, and
// few rows high. A few names are all there.
func TestBanner(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := New(rapid.SampledFrom([]float64{400, 960}).Draw(t, "wide"), 100, 0, 10)
		var ms []Mark
		n := rapid.IntRange(1, 20).Draw(t, "n")
		for range n {
			last := 0.0
			if n := len(ms); n > 0 {
				last = ms[n-1].At
			}
			name := strings.Repeat("x", rapid.IntRange(1, 24).Draw(t, "letters"))
			ms = append(ms, Mark{min(10, last+rapid.Float64Range(0, 2).Draw(t, "later")), name})
		}
		got := c.placeNames(ms)
		for i, a := range got {
			require.True(t, a.left >= 0 && a.right <= c.Width, "%v", a)
			for _, b := range got[:i] {
				if a.row == b.row {
					require.True(t, a.right < b.left || b.right < a.left, "%v and %v", a, b)
				}
				require.False(t, a.row > b.row && a.at > b.left && a.at < b.right, "the line to %v runs through %v", a, b)
			}
		}
		require.LessOrEqual(t, c.BannerHeight(ms), 76.0)
		names := 0
		for _, a := range got {
			names += 1 + strings.Count(a.Name, ", ")
		}
		if n <= 3 && c.Width > 900 {
			require.Equal(t, n, names)
		}
	})
	assert.Zero(t, New(400, 100, 0, 10).BannerHeight(nil))
}

// A picture that can be read tells a script its axes; the two clocks are named, and differ by the launch.
func TestReadable(t *testing.T) {
	c := New(960, 100, 2, 12)
	p := c.Panel(10, 60)
	p.Low, p.High = -5, 105
	p.Readable(`height, m "x|y"`)
	p.VerticalGrid(true)
	p.Clocks(5.5)
	got := c.SVG("broad", "")
	assert.Contains(t, got, ` data-plot="2 12 5.5 52 950|10.0 60.0 -5 105 height, m &#34;x/y&#34;"`)
	assert.Contains(t, got, ">run</text>")
	assert.Contains(t, got, ">launch</text>")
	assert.Contains(t, got, ">4 s</text>")
	assert.Contains(t, got, ">\u22121.5 s</text>", "4 s of the run, on the launch's clock")
	assert.NotContains(t, New(960, 100, 2, 12).SVG("broad", ""), "data-plot")
}

// Lines of the same kind are one path, however many; what has no name in the picture is told to those who point at it.
func TestMoments(t *testing.T) {
	c := New(960, 100, 0, 10)
	p := c.Panel(10, 60)
	p.Low, p.High = -5, 5
	p.Readable("x")
	p.HorizontalGrid(5)
	p.Moments([]Mark{{2, "named"}, {11, "beyond"}}, []Mark{{3.0004, `a;"b"`}, {4.5, "c"}, {12, "beyond"}})
	c.Tracks([]*Panel{c.Panel(70, 80), c.Panel(85, 95)})
	got := c.SVG("broad", "")
	assert.Contains(t, got, `<path class="moment" d="M231.6 10V60M321.4 10V60M456.1 10V60"/>`)
	assert.Contains(t, got, ` data-events="3 a,&#34;b&#34;;4.5 c"`)
	assert.NotContains(t, got, "beyond")
	assert.Contains(t, got, `<path class="grid" d="M52 60H950M52 10H950"/><path class="zero" d="M52 35H950"/>`)
	assert.Contains(t, got, `<path class="track" d="M52 70H950V80H52ZM52 85H950V95H52Z"/>`)
	assert.Contains(t, got, `<g class="tick end"><text x="46" y="64">−5</text>`)
}

// A map has one scale on both axes, and holds what it was made for.
func TestPlane(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := rapid.Float64Range(-1e4, 1e4)
		a, b := [2]float64{f.Draw(t, "a"), f.Draw(t, "b")}, [2]float64{f.Draw(t, "c"), f.Draw(t, "d")}
		low, high := [2]float64{min(a[0], b[0]), min(a[1], b[1])}, [2]float64{max(a[0], b[0]), max(a[1], b[1])}
		p := NewPlane(rapid.SampledFrom([]float64{400, 960}).Draw(t, "wide"), 420, low, high, true)
		x0, y0 := p.At(0, 0)
		x1, y1 := p.At(1, 1)
		require.InDelta(t, x1-x0, y0-y1, 1e-6*(x1-x0))
		require.True(t, p.Inside(low[0], low[1]) && p.Inside(high[0], high[1]))
		p.Grid("east, m", "north, m")
		p.Dot("x", a[0], a[1], 3, "</title>")
		p.Path("y", [][2]float64{a, b}, true)
		require.NotContains(t, p.SVG("broad", ""), "NaN")
		require.NotContains(t, p.SVG("broad", ""), "</title></title>")
	})
}

// Whatever text comes in, it comes out as text of a well-formed picture, and every number is one.
func TestTextIsText(t *testing.T) {
	const evil = `</title><script>alert("x")</script>&'` + "\x00"
	c := New(400, 200, 0, 10)
	p := c.Panel(Head, 178)
	lines := []Line{{Class: "a", T: []float64{0, 1, 2, 3}, X: []float64{1, math.NaN(), math.Inf(1), 2}}}
	p.Grid(p.Scale(lines), true)
	p.Draw(lines[0])
	p.Mark("moment", 3, evil)
	p.Pin("odd", 1, 2, 1, "#"+evil, evil)
	p.Box("lit", 3, 3, 2, evil)
	p.Banner([]Mark{{1, evil}})
	c.Text("name", 1, 1, "end", evil)
	got := c.SVG("broad", evil)
	assert.NotContains(t, got, "<script")
	assert.NotContains(t, got, "NaN")
	d := xml.NewDecoder(strings.NewReader(got))
	for {
		if _, err := d.Token(); err == io.EOF {
			break
		} else {
			require.NoError(t, err)
		}
	}
}

// The axis has round steps, about five of them.
func TestNice(t *testing.T) {
	for _, c := range []struct{ x, want float64 }{{1, 1}, {1.1, 2}, {2.1, 5}, {5.1, 10}, {0.03, 0.05}, {700, 1000}, {1e-9, 1e-9}} {
		assert.InDelta(t, c.want, roundStep(c.x), c.want*1e-9, "%v", c.x)
	}
	p := New(960, 100, 0, 1).Panel(0, 100)
	assert.Equal(t, 20.0, p.Scale([]Line{{T: []float64{0, 1}, X: []float64{-3, 90}}}))
	assert.InDelta(t, 0, p.Y(p.High), 1e-9)
	assert.InDelta(t, 100, p.Y(p.Low), 1e-9)
}

// What lies outside of the chart's time is not drawn; what is too short to be seen is made wide enough.
func TestBox(t *testing.T) {
	c := New(400, 30, 10, 20)
	p := c.Panel(0, 30)
	_, _, drawn := p.Box("lit", 1, 9, 0, "")
	assert.False(t, drawn)
	left, right, drawn := p.Box("lit", 15, 15, 0, "")
	assert.True(t, drawn)
	assert.InDelta(t, c.X(15), left, 1e-9)
	assert.Greater(t, right, left)
	left, right, _ = p.Box("lit", math.Inf(-1), math.Inf(1), 0, "")
	assert.Equal(t, [2]float64{c.X(10), c.X(20)}, [2]float64{left, right})
}

// However odd the numbers are, the axis has an end and every number of the picture is one.
func TestOddNumbers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		odd := rapid.OneOf(rapid.Float64(), rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64, -math.MaxFloat64, 5e-324, 1e16, 0}))
		l := Line{Class: "a"}
		for i := range rapid.IntRange(0, 20).Draw(t, "n") {
			l.Add(float64(i), odd.Draw(t, "x"))
		}
		l = l.Straighten(odd.Draw(t, "off")).Thin(2).Clip(1, 9)
		c := New(400, 200, 0, 10)
		p := c.Panel(Head, 178)
		p.Grid(p.Scale([]Line{l}), true)
		p.Draw(l)
		got := c.SVG("slim", "")
		require.NotContains(t, got, "NaN")
		require.NotContains(t, got, "Inf")
		require.Less(t, len(got), 20_000)
	})
}

// A line leads to the first point of a step, not to its extremes: what rises after a pause rises upright.
func TestALineLeadsToTheFirstPoint(t *testing.T) {
	c := New(Left+Right+100, Head+Foot+100, 0, 100)
	p := c.Panel(Head, Head+100)
	p.Low, p.High = 0, 100
	p.Draw(Line{Class: "a", T: []float64{0, 50, 50.1, 50.2, 100}, X: []float64{0, 0, 100, 90, 90}})
	assert.Contains(t, c.SVG("slim", ""), `d="M52 108l50 0 0-100 0 100 0-90 50 0"`)
}

// The numbers of pins that are close to each other don't lie on each other, and a picture with links isn't one image.
func TestPins(t *testing.T) {
	c := New(400, 200, 0, 10)
	p := c.Panel(Head, 178)
	assert.Contains(t, c.SVG("broad", "none"), `role="img"`)
	p.Pin("odd", 1, 1.1, 1, "#a", "a")
	p.Pin("odd", 1.2, 1.3, 2, "#b", "b")
	p.Pin("odd", 6, 6.1, 3, "#c", "c")
	got := c.SVG("broad", "three")
	assert.Contains(t, got, `role="group"`)
	var at []string
	for _, m := range regexp.MustCompile(`cy="([0-9]+)"`).FindAllStringSubmatch(got, -1) {
		at = append(at, m[1])
	}
	assert.Equal(t, []string{"17", "35", "17"}, at)
}
