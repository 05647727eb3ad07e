package vehicle

import (
	"bytes"
	"encoding/xml"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/show/chart"
	"drystage/sim"
)

const evil = `"><script>alert(1)</script>` + "\u202e"

func rocket() *sim.Vehicle {
	motor := sim.Motor{Thrust: []sim.ThrustPoint{{T: 0, Thrust: 90}, {T: 1, Thrust: 0}}, Propellant: 0.05, Case: 0.04, Length: 0.18, Diameter: 0.024}
	return &sim.Vehicle{Name: evil, Stages: []sim.Stage{
		{Name: evil, Length: 0.8, Diameter: 0.054, Mass: 0.64, CG: 0.39, Nose: sim.Nose{Length: 0.16}, Fins: []sim.Fins{{Count: 3, Root: 0.09, Tip: 0.045, Span: 0.055, Sweep: 0.045, Station: 0.7}}, Mount: sim.Mount{Station: 0.6, Motor: motor}},
		{Name: "booster", Length: 0.4, Diameter: 0.054, Mass: 0.5, CG: 0.2, Fins: []sim.Fins{{Count: 4, Root: 0.1, Tip: 0.05, Span: 0.07, Sweep: 0.05, Station: 0.29}}, Mount: sim.Mount{Station: 0.2, Count: 3, Radius: 0.015, Motor: motor}},
	}}
}

// elements reads a picture, which must be well-formed.
func elements(t *testing.T, svg string) (list []xml.StartElement) {
	for d := xml.NewDecoder(strings.NewReader(svg)); ; {
		x, err := d.Token()
		if err == io.EOF {
			return list
		}
		require.NoError(t, err)
		if e, ok := x.(xml.StartElement); ok {
			list = append(list, e.Copy())
		}
	}
}

// The drawing is to scale: the rocket's 1.2 m fill the width, a fin's root and a motor are as long as they are; each state
// of the motors has its row, with the lowest stage's motors full and empty.
func TestSideView(t *testing.T) {
	c := side(rocket(), 960)
	scale := (960 - 2*sideEdge) / 1.2
	svg := c.SVG("broad", "")
	classes := map[string]int{}
	for _, e := range elements(t, svg) {
		for _, a := range e.Attr {
			if a.Name.Local == "class" {
				classes[a.Value]++
			}
			if a.Name.Local == "width" && e.Name.Local == "rect" {
				assert.Equal(t, "139.2", a.Value, "0.18 m of motor at %v units a metre", scale)
			}
		}
	}
	assert.Equal(t, 2, classes["hull"])
	assert.Equal(t, 3+4, classes["fin"])
	assert.Equal(t, 1+3, classes["motor"])
	assert.Equal(t, 4, classes["quarters"], "the whole rocket and what is above the booster, each full and burnt out")
	assert.Contains(t, svg, "length 1200 mm")
	assert.Contains(t, svg, "whole rocket, booster burnt out, ")
	assert.Contains(t, svg, "above booster, motors full, 0.730 kg")
	states := balances(rocket())
	assert.Less(t, states[1].CG, states[0].CG, "propellant that burns in the rear moves the CG forward")
	assert.Greater(t, states[1].Margin, states[0].Margin)
}

// Text of files stays text; the page has what a reader asks for.
func TestPage(t *testing.T) {
	f := &Flight{
		Vehicle: rocket(), Under: evil, Facts: []Fact{{"apogee", "812 m"}}, Warnings: []string{evil}, Text: evil,
		Plots:  func(width float64) []Plot { return []Plot{{evil, chart.New(width, 100, 0, 1)}} },
		Bodies: []Body{{Name: evil, Class: "one", Track: [][2]float64{{0, 0}, {30, 40}}, Landed: true, East: 30, North: 40, Note: "50 m away, bearing 037 deg"}},
		Wind:   Wind{Speed: 4, From: 1.5},
	}
	var b bytes.Buffer
	require.NoError(t, Write(&b, f))
	text := b.String()
	assert.Equal(t, 1, strings.Count(text, "<script"), "the page's own")
	assert.NotContains(t, text, "\u202e")
	for _, want := range []string{"812 m", "50 m away", "wind 4.0 m/s from 086\u00b0", "Warning.", "the pad"} {
		assert.Contains(t, text, want)
	}
	assert.NotContains(t, text, "NaN")
	f.Warnings = nil
	b.Reset()
	require.NoError(t, Write(&b, f))
	assert.Contains(t, b.String(), "No warning.")
}
