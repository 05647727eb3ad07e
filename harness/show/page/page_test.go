package page

import (
	"bytes"
	"encoding/xml"
	"flag"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"drystage/harness"
	"drystage/harness/judge/verdict"
	"drystage/harness/show/chart"
	"drystage/harness/show/report"
	"drystage/sim"
	"drystage/sim/r3"
)

var update = flag.Bool("update", false, "rewrite the golden files")

const ms = sim.Millisecond

func s(x float64) sim.Time { return sim.Seconds(x) }

// flown is the record of a flight of 20 s at 100 ticks/s that nobody has to believe: height 500 - 5 (t-10)^2 m. The
// drogue's window is 9 s to 11 s and it switches on at 10.2 s; a fault takes barometer samples away and one adds to
// them; the board says three words.
func flown(es ...harness.Expectation) *harness.Record {
	rec := &harness.Record{
		Made:   harness.Maker{Version: "devel", Go: "go1.26", Arch: "linux/amd64", Boards: []string{"mock"}},
		Health: []harness.Health{{Name: "mock", Boots: 1, RoundTrips: 2001}},
	}
	rec.Plan = harness.Plan{
		Name: "parabola", Title: "A parabola", Story: "It goes up & comes down.\n", File: "scenarios/parabola.yaml", Digest: "00ff", Expect: es,
		Boards: []harness.Board{{Role: "sustainer"}},
	}
	rec.Plan.Setup = sim.Setup{
		Seed: 7, Launch: s(1),
		Vehicle: sim.Vehicle{Name: "Dart", Stages: []sim.Stage{{Name: "sustainer"}}},
		Bays: []sim.Bay{{Name: "sustainer", Sensors: sim.Sensors{Baro: sim.Barometer{Rate: 50}},
			Wires: []sim.Wire{{Channel: 1, Name: "drogue"}, {Channel: 2, Name: "main"}}}},
		Faults: []sim.Fault{
			{Kind: sim.Step, Part: sim.PartBaro, Value: 400, From: sim.Anchor{Offset: s(3)}, Duration: s(1)},
			{Kind: sim.Dropout, Part: sim.PartBaro, From: sim.Anchor{Offset: s(5)}, Duration: s(0.2)},
			{Kind: sim.DeadIgniter},
		},
	}
	for i := range 2001 {
		at := sim.Time(i) * 10 * ms
		t := at.Seconds()
		st := sim.State{Position: r3.Vec{Z: 500 - 5*(t-10)*(t-10)}, Velocity: r3.Vec{Z: -10 * (t - 10)}, Pressure: 9e4}
		f := sim.Frame{Now: at, Due: true, Powered: true, Pressure: 9e4}
		active := uint64(0)
		if i%2 == 0 {
			f.Has = sim.HasBaro
			switch {
			case at >= s(3) && at < s(4):
				active, f.Pressure = 1, 9e4+400
				rec.Injected = append(rec.Injected, sim.Injection{At: at, Part: sim.PartBaro, Was: r3.Vec{X: 9e4}, Is: r3.Vec{X: 9e4 + 400}})
			case at >= s(5) && at < s(5.2):
				active, f.Has = 2, 0
				rec.Injected = append(rec.Injected, sim.Injection{At: at, Fault: 1, Part: sim.PartBaro, Dropped: true, Was: r3.Vec{X: 9e4}})
			}
		}
		rec.Times, rec.Active = append(rec.Times, at), append(rec.Active, active)
		rec.States, rec.Frames = append(rec.States, st), append(rec.Frames, f)
	}
	rec.Events = []sim.Event{{Name: "liftoff", At: s(1.1)}, {Name: "sustainer.burnout", At: s(3)}, {Name: "sustainer.apogee", At: s(10)}, {Name: "apogee", At: s(10)}, {Name: "landing", At: s(20)}}
	for i, word := range []string{"standing", "powered", "unpowered"} {
		r := harness.Report{At: s(float64(3 * i)), Height: float64(i) * 100}
		copy(r.Phase[:], word)
		rec.Reports = append(rec.Reports, r, r)
	}
	return lit(rec, 1, s(10.2), s(11.2))
}

func lit(rec *harness.Record, channel int, on, off sim.Time) *harness.Record {
	rec.Outputs = append(rec.Outputs,
		harness.Edge{Output: sim.Output{Channel: channel, On: true, At: on}, Within: 4 * ms},
		harness.Edge{Output: sim.Output{Channel: channel, At: off}, Within: 4 * ms})
	return rec
}

func fires(from, to sim.Time) harness.Expectation {
	apogee := func(t sim.Time) sim.Anchor { return sim.Anchor{Event: "apogee", Offset: t} }
	return harness.Expectation{
		Kind: harness.Fires, Text: "sustainer.drogue fires <near> apogee", Place: harness.Place{File: "scenarios/parabola.yaml", Line: 9, Column: 5},
		Output: harness.Channel{Channel: 1, Name: "sustainer.drogue"}, From: apogee(from), To: apogee(to), HasFrom: true, HasTo: true,
	}
}

func dark(channel int, name string) harness.Expectation {
	return harness.Expectation{Kind: harness.Never, Text: name + " never fires", Place: harness.Place{File: "scenarios/parabola.yaml", Line: 10, Column: 5},
		Output: harness.Channel{Channel: channel, Name: name}}
}

// three are a run that passes but for a fault that changed nothing, one that fails, and one that was cut short.
func three() []*harness.Record {
	good, bad, cut := flown(fires(s(-1), s(1)), dark(2, "sustainer.main")), flown(fires(s(-3), s(-1)), dark(1, "sustainer.drogue")), flown(fires(s(-1), s(1)))
	good.Plan.Setup.Faults = good.Plan.Setup.Faults[:2]
	bad.Plan.Name, bad.Plan.Setup.Seed = "early", 8
	cut.Plan.Name = "cut"
	n := 801
	cut.Times, cut.Active, cut.States, cut.Frames = cut.Times[:n], cut.Active[:n], cut.States[:n], cut.Frames[:n]
	cut.Events, cut.Outputs, cut.Cause = cut.Events[:2], nil, "board: exchange 801: deadline exceeded after 50ms"
	return []*harness.Record{good, bad, cut}
}

func scenesOf(recs ...*harness.Record) (runs []Summary, vs []harness.Verdict) {
	for _, rec := range recs {
		v := verdict.Judge(rec)
		vs, runs = append(vs, v), append(runs, Summarize(rec, v))
	}
	return runs, vs
}

func write(t require.TestingT, runs []Summary) string {
	var b bytes.Buffer
	require.NoError(t, Write(&b, runs, report.Options{}))
	return b.String()
}

// node is an element of a page.
type node struct {
	name     string
	attr     map[string]string
	from, to int    // of its text in that of the page
	text     string // its own and that of all below
	all      []*node
}

// parse reads a page as XML, which it is but for what HTML lets be; a page that is not well-formed fails.
func parse(t require.TestingT, text string) *node {
	text = strings.TrimPrefix(text, "<!DOCTYPE html>")
	for _, void := range []string{`<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'">`, `<meta charset="utf-8">`, `<meta name="viewport" content="width=device-width, initial-scale=1">`} {
		text = strings.Replace(text, void, "", 1)
	}
	d := xml.NewDecoder(strings.NewReader(text))
	d.Entity = xml.HTMLEntity
	root := &node{}
	stack := []*node{root}
	var words strings.Builder
	for {
		tok, err := d.Token()
		if err == io.EOF {
			break
		}
		require.NoError(t, err)
		switch x := tok.(type) {
		case xml.StartElement:
			n := &node{name: x.Name.Local, attr: map[string]string{}, from: words.Len()}
			for _, a := range x.Attr {
				n.attr[a.Name.Local] = a.Value
			}
			for _, up := range stack {
				up.all = append(up.all, n)
			}
			stack = append(stack, n)
		case xml.EndElement:
			stack[len(stack)-1].to = words.Len()
			stack = stack[:len(stack)-1]
		case xml.CharData:
			words.Write(x)
		}
	}
	root.text = words.String()
	for _, n := range root.all {
		n.text = root.text[n.from:n.to]
	}
	return root
}

// find lists the elements below that have a name and a class; either may be empty.
func (n *node) find(name, class string) (list []*node) {
	for _, x := range n.all {
		if (name == "" || x.name == name) && (class == "" || slices.Contains(strings.Fields(x.attr["class"]), class)) {
			list = append(list, x)
		}
	}
	return list
}

func TestGolden(t *testing.T) {
	runs, _ := scenesOf(three()[1])
	got := write(t, runs)
	const file = "testdata/early.html"
	if *update {
		require.NoError(t, os.WriteFile(file, []byte(got), 0o644))
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Equal(t, string(want), got, "go test ./harness/show/page -update rewrites it; look at the page before you keep it")
}

func TestAnEmptySuiteIsAnError(t *testing.T) {
	var b bytes.Buffer
	assert.ErrorIs(t, Write(&b, nil, report.Options{}), report.ErrEmpty)
	assert.Empty(t, b.String())
}

// Every finding that is no pass is on the page, with all there is to say of it, and the answer of the whole is that
// of the verdicts.
func TestNothingThatIsNoPassIsLeftOut(t *testing.T) {
	runs, vs := scenesOf(three()...)
	page := parse(t, write(t, runs))
	assert.Equal(t, harness.Worst(vs).String(), page.find("p", "answer")[0].text)
	assert.Contains(t, page.find("h1", "")[0].text, "3 scenarios: 1 passed, 1 failed, 1 unsure")
	sections := page.find("section", "")
	require.Len(t, sections, 3)
	for i, at := range []int{1, 2, 0} { // fail, unsure, pass
		v, section := &vs[at], sections[i]
		assert.Contains(t, section.find("h2", "")[0].text, v.Answer.String()+" · "+v.Name)
		wrong := 0
		for _, f := range v.Findings {
			if f.Answer == harness.Pass {
				assert.Contains(t, section.text, f.Text)
				continue
			}
			wrong++
			for _, x := range []string{f.Text, f.Reason, f.Wanted, f.Seen} {
				assert.Contains(t, section.text, chart.Typeset(x))
			}
			if f.Place.Line > 0 {
				assert.Contains(t, section.text, f.Place.String())
			}
		}
		assert.Equal(t, v.Answer == harness.Pass, wrong == 0)
		words := map[string]int{}
		for _, b := range section.find("b", "") {
			words[b.text]++
		}
		n := 0
		for _, f := range v.Findings {
			if f.Answer == harness.Unsure {
				n++
			}
			if f.Answer == harness.Unsure && f.Place.Line > 0 {
				n++ // above the pictures and in the table
			}
		}
		if v.Answer == harness.Unsure {
			n++ // the heading
		}
		assert.Equal(t, n, words["unsure"], "each finding says its answer in words")
		assert.Contains(t, section.text, fmt.Sprintf("drystage bench scenarios/parabola.yaml --seed %d", v.Seed))
	}
}

// The table has a row for each scenario, which leads to its section.
func TestTheTableLeadsToTheSections(t *testing.T) {
	runs, _ := scenesOf(three()...)
	page := parse(t, write(t, runs))
	ids := map[string]int{}
	for _, n := range page.all {
		if id, ok := n.attr["id"]; ok {
			ids[id]++
		}
	}
	for id, n := range ids {
		assert.Equal(t, 1, n, id)
	}
	links := page.find("a", "")
	require.Len(t, links, 4)
	assert.Equal(t, "#scenario-1", links[0].attr["href"], "the most dangerous finding leads to its section")
	for _, a := range links {
		assert.Equal(t, 1, ids[strings.TrimPrefix(a.attr["href"], "#")], a.attr["href"])
	}
	rows := page.find("table", "wide")[0].find("tr", "")[1:]
	for i, words := range []string{"fail", "unsure", "pass"} {
		assert.Equal(t, words, rows[i].find("b", words)[0].text)
	}
}

// A finding that explains a verdict against its findings stands among them.
func TestAVerdictWithoutItsReasonIsExplained(t *testing.T) {
	rec := flown()
	run := Summarize(rec, harness.Verdict{Name: "odd", Answer: harness.Fail})
	page := parse(t, write(t, []Summary{run}))
	assert.Contains(t, page.text, "none of its 0 findings says why")
	assert.Contains(t, page.text, "nothing was expected, so that nothing was tested")
}

// Names come from files and boards that may be hostile. They stay text, and nothing of the page comes from elsewhere.
func TestHostileNamesAreHarmless(t *testing.T) {
	const evil = `"><script>alert('x')</script><img src=x onerror=alert(1)>` + "\u202e\x1b[31m\x00{{.}}</svg></style>"
	rec := flown(fires(s(-3), s(-2)), dark(2, evil))
	p := &rec.Plan
	p.Name, p.Title, p.Story, p.File, p.Digest, p.Setup.Vehicle.Name, p.Log.File = evil, evil, evil, evil, evil, evil, evil
	p.Boards[0].Role, p.Setup.Bays[0].Name, p.Setup.Bays[0].Wires[0].Name, p.Setup.Vehicle.Stages[0].Name = evil, evil, evil, evil
	p.Expect[0].Text, p.Expect[0].Place.File = evil, evil
	rec.Health[0].Name, rec.Made = evil, harness.Maker{Version: evil, Go: evil, Arch: evil, Boards: []string{evil}}
	rec.Pace = harness.Pace{RealTime: true, How: evil}
	rec.Late = make([]sim.Time, len(rec.Times))
	rec.Clocks = []harness.BoardClock{{Trouble: evil}}
	rec.Events = append(rec.Events, sim.Event{Name: "<script>evil</script>", At: s(12)})
	for i := range rec.Reports {
		copy(rec.Reports[i].Phase[:], "<script>x\u202e\x1b")
	}
	runs, _ := scenesOf(rec)
	text := write(t, runs)
	page := parse(t, text)
	assert.Contains(t, page.text, "<script>alert('x')</script>", "it is there, as text")
	scripts := page.find("script", "")
	require.Len(t, scripts, 1)
	assert.Equal(t, strings.TrimSpace(strings.NewReplacer("/*<![CDATA[*/", "/**/", "/*]]>*/", "/**/").Replace(chart.Script)), strings.TrimSpace(scripts[0].text), "the page's own, whatever names there are")
	for _, n := range page.all {
		assert.NotContains(t, []string{"img", "link", "iframe", "object"}, n.name)
		for a, value := range n.attr {
			assert.False(t, strings.HasPrefix(a, "on"), a)
			if a == "href" || a == "src" {
				assert.True(t, strings.HasPrefix(value, "#"), value)
			}
		}
	}
	for _, bad := range []string{"\u202e", "\x1b", "\x00", "http:", "https:", "ZgotmplZ", "@import", "NaN"} {
		assert.NotContains(t, text, bad)
	}
	assert.Equal(t, 1, strings.Count(text, "url("), "the hatching, and it is the page's own")
}

// A run keeps nothing of its record: the record's memory may serve another run.
func TestASceneOutlivesItsRecord(t *testing.T) {
	recs := three()
	runs, _ := scenesOf(recs...)
	want := write(t, runs)
	for _, rec := range recs {
		for i := range rec.Times {
			rec.Times[i], rec.States[i], rec.Frames[i], rec.Active[i] = -1, sim.State{}, sim.Frame{}, 99
		}
		clear(rec.Events)
		clear(rec.Outputs)
		clear(rec.Reports)
		clear(rec.Injected)
		clear(rec.Health)
		clear(rec.Made.Boards)
		rec.Reset()
	}
	assert.Equal(t, want, write(t, runs))
	again, _ := scenesOf(three()...)
	assert.Equal(t, want, write(t, again), "equal records, equal bytes")
}

// The band that is drawn lies where the window that judged lies, and the bar where the output was on.
func TestBandsLieWhereTheVerdictHasThem(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from := sim.Time(rapid.Int64Range(-9e9, 8e9).Draw(t, "from"))
		e := fires(from, from+sim.Time(rapid.Int64Range(0, 5e9).Draw(t, "wide")))
		rec := flown(e)
		rec.Events = nil // no way up of its own: one picture of the whole
		rec.Plan.Expect[0].From.Event, rec.Plan.Expect[0].To.Event = "", ""
		rec.Plan.Expect[0].From.Offset += s(10)
		rec.Plan.Expect[0].To.Offset += s(10)
		sight, ok := verdict.TimelineOf(rec)
		require.True(t, ok)
		runs, vs := scenesOf(rec)
		svg := parse(t, write(t, runs)).find("svg", "broad")[len(runs[0].close)]
		must, bar := svg.find("rect", "must"), svg.find("rect", "lit")
		require.Len(t, must, 1)
		require.Len(t, bar, 1)
		c := chart.New(960, 0, 0, 20)
		span, light := sight.Requirements[0].Spans[0], sight.Outputs[0].On[0]
		assert.InDelta(t, c.X(span.From.Seconds()), number(t, must[0], "x"), 0.051)
		if wide := c.X(span.To.Seconds()) - c.X(span.From.Seconds()); wide > 1.5 && span.To <= s(20) {
			assert.InDelta(t, wide, number(t, must[0], "width"), 0.051)
		}
		assert.InDelta(t, c.X(light.On.Seconds()), number(t, bar[0], "x"), 0.051)
		f := vs[0].Findings[0]
		assert.InDelta(t, min(light.On-span.From, span.To-light.On).Seconds(), f.Margin, 1e-9)
	})
}

func number(t require.TestingT, n *node, name string) (x float64) {
	_, err := fmt.Sscan(n.attr[name], &x)
	require.NoError(t, err)
	return x
}

// However a record is spoilt, there is a page that says so.
func TestSpoiltRecordsMakeAPage(t *testing.T) {
	spoil := []struct {
		reason string
		do     func(r *harness.Record)
	}{
		{"states", func(r *harness.Record) { r.States = r.States[1:] }},
		{"nothing", func(r *harness.Record) { *r = harness.Record{Plan: r.Plan} }},
		{"no plan", func(r *harness.Record) { *r = harness.Record{} }},
		{"health", func(r *harness.Record) { r.Health = nil }},
		{"boards", func(r *harness.Record) { r.Plan.Boards, r.Made.Boards = nil, nil }},
		{"reports of nobody", func(r *harness.Record) { r.Reports[0].Bay, r.Reports[1].Bay = -1, 9 }},
		{"outputs of nobody", func(r *harness.Record) { r.Outputs[0].Bay = 9; lit(r, -3, s(-5), s(1e9)) }},
		{"injections of nobody", func(r *harness.Record) { r.Injected[0].Bay, r.Injected[1].Part, r.Injected[2].Fault = -1, 99, -7 }},
		{"faults of nothing", func(r *harness.Record) { r.Plan.Setup.Faults[0] = sim.Fault{Kind: 99, Part: 99, Bay: 99} }},
		{"time", func(r *harness.Record) { r.Times[2000] = sim.Never }},
		{"one instant", func(r *harness.Record) {
			r.Times, r.States, r.Frames, r.Active = r.Times[:1], r.States[:1], r.Frames[:1], r.Active[:1]
		}},
		{"launch", func(r *harness.Record) { r.Plan.Setup.Launch = sim.Never - 1 }},
		{"events", func(r *harness.Record) {
			r.Events = []sim.Event{{Name: "sustainer.apogee", At: -sim.Never}, {Name: "x", At: sim.Never}}
		}},
		{"many events", func(r *harness.Record) {
			r.Events = append(r.Events, make([]sim.Event, 500)...)
			for i := range r.Events {
				r.Events[i] = sim.Event{Name: fmt.Sprint("e", i), At: s(3) + sim.Time(i)}
			}
		}},
		{"a board that babbles", func(r *harness.Record) {
			for i := range 2000 {
				r.Reports = append(r.Reports, harness.Report{At: sim.Time(i) * 10 * ms, Phase: [16]byte{byte('a' + i%2)}})
			}
		}},
		{"an output that flickers", func(r *harness.Record) {
			for i := range 2000 {
				lit(r, 2, sim.Time(i)*10*ms, sim.Time(i)*10*ms+5*ms)
			}
		}},
		{"expectations of nobody", func(r *harness.Record) { r.Plan.Expect[0].Output.Bay = 9 }},
		{"height", func(r *harness.Record) { r.States[9].Position.Z = 1e308; r.States[10].Position.Z = -1e308 }},
	}
	rapid.Check(t, func(t *rapid.T) {
		rec := flown(fires(s(-1), s(1)), dark(2, "sustainer.main"))
		for range rapid.IntRange(1, 3).Draw(t, "times") {
			x := spoil[rapid.IntRange(0, len(spoil)-1).Draw(t, "which")]
			if len(rec.Times) < 2001 || len(rec.States) < 2001 || len(rec.Reports) < 2 || len(rec.Plan.Setup.Faults) == 0 {
				break // too little is left to be spoilt again
			}
			x.do(rec)
		}
		runs, vs := scenesOf(rec)
		text := write(t, runs)
		page := parse(t, text)
		assert.Equal(t, vs[0].Answer.String(), page.find("p", "answer")[0].text)
		assert.NotContains(t, text, "NaN")
		assert.Less(t, len(text), 200_000, "however much a record holds")
	})
}
