package report

import (
	"bytes"
	"encoding/json"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/judge/coverage"
	"drystage/harness/judge/ready"
	"drystage/sim"
)

// wren is a sheet with something in every part of it.
func wren() ready.Sheet {
	call := ready.Call{Scenario: "early-spike", Record: "out/early-spike.record", Finding: harness.Finding{
		Text: "upper.drogue never fires before apogee - 0.5 s", Place: harness.Place{File: "scenarios/early-spike.yaml", Line: 10, Column: 5},
		Answer: harness.Pass, HasMargin: true, Margin: 0.59, Unit: "s", Share: 0.06,
	}}
	fast := call
	fast.Scenario, fast.RealTime, fast.Finding.Share, fast.Finding.Margin, fast.Finding.Unit = "nominal", true, 0.41, 12.25, "deg"
	s := ready.Sheet{
		Count:    harness.Count{Pass: 2, Fail: 1, Unsure: 1},
		Vehicles: []ready.Group{{Name: "Wren", Scenarios: []string{"early-spike", "nominal"}}},
		Days: ready.Days{Known: true, Wind: ready.Range{Least: 0, Most: 8}, Gust: 4.5, Temperature: ready.Range{Least: 263.15, Most: 288.15},
			Pressure: ready.Range{Least: 96000, Most: 96000}, RailTilt: ready.Range{Least: 3 * math.Pi / 180, Most: 5 * math.Pi / 180}},
		Versions: []ready.Group{{Name: "drystage 1, go1.26, linux/arm64", Scenarios: []string{"early-spike", "nominal"}}},
		Boards: []ready.Board{
			{Role: "lower"},
			{Role: "upper", Names: []ready.Group{{Name: "mine", Scenarios: []string{"nominal"}}}, Addresses: []ready.Group{{Name: "serial:/dev/ttyACM0", Scenarios: []string{"nominal"}}}},
		},
		Outputs: []ready.Output{
			{Role: "upper", Name: "drogue", Channels: []int{2}, Does: "opens top.drogue", Demands: []ready.Count{{Word: "fires", Scenarios: 2}, {Word: "never", Scenarios: 1}},
				Fired: 2, Lockstep: 1, RealTime: 1, Known: []ready.Count{{Word: "tick", Scenarios: 1}, {Word: "pin", Scenarios: 1}}, Closest: &call},
			{Role: "upper", Name: "lamp", Channels: []int{4, 5}, Does: "nothing in the vehicle"},
		},
		Closest: []ready.Call{call, fast},
		Points: []ready.Point{
			{Kind: ready.Fails, Text: "staging-tilt fails: upper.ignite never fires; and 1 more", Next: "find out why, mend it, fly it again", Command: []string{"drystage", "show", "my records/staging-tilt.record"}, Scenarios: []string{"staging-tilt"}},
			{Kind: ready.NeverFired, Text: "upper.lamp (nothing in the vehicle): it fired in no scenario that passes", Next: "fly a scenario in which it must fire"},
			{Kind: ready.NoRecord, Text: "cold-site has no record", Command: []string{"drystage", "bench", "scenarios/cold-site.yaml", "--out", "my records"}},
		},
		Suite: ready.Suite{Compared: true, Paths: []string{"scenarios"}, Files: []ready.SuiteFile{
			{Name: "cold-site", File: "scenarios/cold-site.yaml", Digest: "c0"}, {Name: "nominal", File: "scenarios/nominal.yaml", Digest: "d1", Flown: ready.FlownAsItIs},
		}},
		Scenarios: []ready.Scenario{
			{Name: "early-spike", Title: "A spike", Answer: harness.Pass, Records: []ready.Record{{Files: []string{"my records/early-spike.record"}, Sum: strings.Repeat("0a", 32), Digest: strings.Repeat("1b", 32), Seed: 1, Answer: harness.Pass}}},
			{Name: "nominal", Title: "A good flight", Answer: harness.Pass, Records: []ready.Record{{Files: []string{"a/nominal.record", "b/nominal.record"}, Sum: strings.Repeat("2c", 32), Digest: "d1", Seed: math.MaxUint64, RealTime: true, Answer: harness.Pass}}},
		},
	}
	rec := &harness.Record{Times: []sim.Time{0}, Active: []uint64{1}, States: []sim.State{{OnPad: true}}}
	rec.Plan.Setup.Vehicle.Stages = make([]sim.Stage, 1)
	rec.Plan.Setup.Bays = make([]sim.Bay, 1)
	rec.Plan.Setup.Faults = []sim.Fault{{Kind: sim.Spike}}
	s.Tried.Add(rec)
	return s
}

// hostile puts what could be markup, or move a cursor, wherever a file or a board has a word.
func hostile() ready.Sheet {
	const evil = `<script>alert(1)</script>" onx='"&` + "\x1b[31m\u202e"
	s := wren()
	s.Vehicles[0].Name, s.Versions[0].Name, s.Boards[1].Role, s.Boards[1].Names[0].Name, s.Boards[1].Addresses[0].Name = evil, evil, evil, evil, evil
	s.Outputs[0].Role, s.Outputs[0].Name, s.Outputs[0].Does = evil, evil, evil
	for i := range s.Points {
		if s.Points[i].Text = evil; s.Points[i].Next != "" {
			s.Points[i].Next = evil
		}
	}
	s.Points[0].Command = []string{"drystage", "show", evil}
	s.Closest[0].Scenario, s.Closest[0].Finding.Text, s.Closest[0].Finding.Place.File, s.Closest[0].Finding.Unit = evil, evil, evil, evil
	s.Scenarios[0].Name, s.Scenarios[0].Title, s.Scenarios[0].Records[0].Files, s.Scenarios[0].Records[0].Digest = evil, evil, []string{evil}, evil
	s.Suite.Files[0].Name, s.Suite.Files[0].File = evil, evil
	return s
}

// clear is a sheet on which nothing is open.
func clear() ready.Sheet {
	s := wren()
	s.Fail, s.Unsure, s.Points = 0, 0, nil
	return s
}

var sheetFormats = map[string]func(io.Writer, *ready.Sheet, Options) error{"txt": SheetText, "json": SheetJSON, "html": SheetPage}

func sheetText(t testing.TB, format string, s ready.Sheet, opt Options) string {
	var b bytes.Buffer
	require.NoError(t, sheetFormats[format](&b, &s, opt))
	return b.String()
}

func TestSheetGoldens(t *testing.T) {
	narrow := options()
	narrow.Width = 60
	golden := map[string]string{"sheet-narrow.txt": sheetText(t, "txt", wren(), narrow), "sheet-hostile.txt": sheetText(t, "txt", hostile(), options())}
	for format := range sheetFormats {
		golden["sheet."+format] = sheetText(t, format, wren(), options())
	}
	for name, got := range golden {
		file := filepath.Join("testdata", name)
		if *update {
			require.NoError(t, os.WriteFile(file, []byte(got), 0o644))
		}
		want, err := os.ReadFile(file)
		require.NoError(t, err)
		assert.Equal(t, string(want), got, "%s: go test ./harness/show/report -update rewrites it; read the difference first", name)
	}
}

// No page has markup or attributes that a file or a board wrote, and no terminal their escapes.
func TestHostileNamesOnASheet(t *testing.T) {
	page := sheetText(t, "html", hostile(), options())
	assert.NotContains(t, page, "<script")
	assert.Contains(t, page, "&lt;script&gt;alert(1)")
	tags := func(s string) []string { return regexp.MustCompile(`<[^>]*>`).FindAllString(s, -1) }
	assert.Equal(t, tags(sheetText(t, "html", wren(), options())), tags(page), "the page has the tags of any other")
	for _, format := range []string{"txt", "html"} {
		got := sheetText(t, format, hostile(), options())
		assert.Less(t, strings.IndexAny(got, "\x1b\u202e"), 0, format)
	}
	assert.True(t, json.Valid([]byte(sheetText(t, "json", hostile(), options()))))
	assert.Contains(t, sheetText(t, "txt", hostile(), options()), `$ drystage show '<script>alert(1)</script>" onx='\''"&[31m'`, "one word of a shell")
}

// The page needs nothing from elsewhere.
func TestThePageOfASheetStandsAlone(t *testing.T) {
	page := sheetText(t, "html", wren(), options())
	assert.NotRegexp(t, `(?i)https?:|<script|<img|<link|@import|url\(`, page)
	assert.Contains(t, page, "@page { size: A4")
	assert.Equal(t, len(wren().Points)+len(ready.Field()), strings.Count(page, `class="box"`), "a box to tick for each point and each line of the field")
}

// Whatever the answer, no format says that it may fly, and every one says that this is no permission.
func TestASheetNeverPromises(t *testing.T) {
	for format := range sheetFormats {
		for _, s := range []ready.Sheet{wren(), clear()} {
			got := strings.Join(strings.Fields(sheetText(t, format, s, options())), " ")
			assert.Contains(t, got, "It is no permission to fly", format)
			assert.NotRegexp(t, `(?i)ready to fly|safe to|\bis safe\b|cleared|good to go`, got, format)
		}
	}
	assert.Contains(t, sheetText(t, "txt", clear(), options()), "Nothing is open on the bench. What no bench can prove still is.")
	assert.Contains(t, sheetText(t, "txt", clear(), options()), "no point is open on the bench")
}

func TestAnEmptySheetIsAnError(t *testing.T) {
	for format, write := range sheetFormats {
		var b bytes.Buffer
		assert.ErrorIs(t, write(&b, &ready.Sheet{}, options()), ErrEmpty, format)
		assert.Empty(t, b.String(), format)
	}
}

func TestSheetHeadline(t *testing.T) {
	for _, c := range []struct {
		reason string
		s      ready.Sheet
		want   string
	}{
		{"several points", wren(), "2 of 4 scenarios pass, 1 fail, 1 unsure; 3 points are open"},
		{"one", ready.Sheet{Count: harness.Count{Pass: 1}, Points: make([]ready.Point, 1)}, "1 of 1 scenario pass, 0 fail, 0 unsure; 1 point is open"},
		{"none", clear(), "2 of 2 scenarios pass, 0 fail, 0 unsure; no point is open on the bench"},
		{"records that don't belong together", ready.Sheet{Count: harness.Count{Pass: 1}, Points: []ready.Point{{Kind: ready.OtherBoard}, {}}}, "1 of 1 scenario pass, 0 fail, 0 unsure; 2 points are open; these records are not one set"},
	} {
		assert.Equal(t, c.want, headline(&c.s), c.reason)
	}
}

func TestSheetDays(t *testing.T) {
	s := wren()
	assert.Equal(t, "steady wind 0.0 to 8.0 m/s, gusts up to 4.5 m/s more; at the pad -10 to 15 degC, 960 hPa; rail 3.0 to 5.0 deg off vertical", daysText(&s.Days))
	assert.Equal(t, "nothing passed", daysText(new(ready.Days)))
	assert.Equal(t, "0 degC", rangeText(-0.2, 0.3, 0, "degC"), "no minus before nothing")
}

// JSON holds what the other formats show: who has no name, what was tried, no number that JSON can't say.
func TestSheetJSON(t *testing.T) {
	s := wren()
	s.Closest[1].Finding.Share = math.Inf(1)
	var d struct {
		Answer, Digest string
		Open           []struct{ Kind string }
		Suite          *struct{ Files []struct{ Flown string } }
		Tried          []struct {
			Fault  string
			Phases map[string]int `json:"scenarios_by_phase"`
		} `json:"faults_tried"`
		Never     []string `json:"faults_never_tried"`
		Closest   []struct{ Share *float64 }
		Scenarios []struct{ Records []struct{ Seed string } }
	}
	require.NoError(t, json.Unmarshal([]byte(sheetText(t, "json", s, options())), &d))
	assert.Equal(t, "fail", d.Answer)
	assert.Equal(t, "never_fired", d.Open[1].Kind)
	assert.Equal(t, "no record", d.Suite.Files[0].Flown)
	assert.Equal(t, map[string]int{coverage.Pad.String(): 1}, d.Tried[0].Phases)
	assert.Len(t, d.Never, len(sim.FaultKinds())-1)
	assert.Nil(t, d.Closest[1].Share)
	assert.Equal(t, "18446744073709551615", d.Scenarios[1].Records[0].Seed)
	assert.Equal(t, sheetDigest(&s), d.Digest)
	s.Suite = ready.Suite{}
	assert.NotContains(t, sheetText(t, "json", s, options()), `"suite"`, "nothing was compared")
}
