package ready

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"drystage/harness"
	"drystage/sim"
)

// flown is a record that passes and leaves nothing open: one real board on a two-stage rocket, in real time,
// each output seen by a measured pin. Its flight has three instants.
func flown(change ...func(*harness.Record)) *harness.Record {
	const s = sim.Second
	r := &harness.Record{
		Plan:  harness.Plan{Name: "nominal", Title: "A good flight", File: "scenarios/nominal.yaml", Digest: "d1", Boards: []harness.Board{{Role: "upper"}}},
		Made:  harness.Maker{Version: "1", Go: "go1", Arch: "linux/amd64", Boards: []string{"serial:/dev/ttyACM0"}},
		Pace:  harness.Pace{RealTime: true, Limit: s},
		Times: []sim.Time{0, 5 * s, 20 * s}, Late: make([]sim.Time, 3), Active: make([]uint64, 3), States: make([]sim.State, 6), Frames: make([]sim.Frame, 3),
		Events: []sim.Event{{Name: "apogee", At: 10 * s}},
		Health: []harness.Health{{Name: "mine", Boots: 1, RoundTrips: 3}},
	}
	r.Plan.Setup = sim.Setup{Seed: 7, Vehicle: sim.Vehicle{Name: "Wren", Stages: []sim.Stage{
		{Name: "top", Mount: sim.Mount{Motor: sim.Motor{Thrust: make([]sim.ThrustPoint, 2)}}, Recovery: []sim.Device{{Name: "drogue"}}},
		{Name: "bottom", Mount: sim.Mount{Motor: sim.Motor{Thrust: make([]sim.ThrustPoint, 2)}}},
	}}, Bays: []sim.Bay{{Name: "upper", Wires: []sim.Wire{
		{Channel: 1, Name: "ignite", Effect: sim.Effect{Kind: sim.Ignite}}, {Channel: 2, Name: "drogue", Effect: sim.Effect{Kind: sim.Deploy}},
	}}}}
	for i, name := range []string{"ignite", "drogue"} {
		c := harness.Channel{Channel: i + 1, Name: "upper." + name}
		r.Plan.Expect = append(r.Plan.Expect, harness.Expectation{
			Kind: harness.Fires, Text: c.Name + " fires about apogee", Output: c, Place: harness.Place{File: "scenarios/nominal.yaml", Line: 9 + i, Column: 5},
			From: sim.Anchor{Event: "apogee", Offset: -2 * s}, To: sim.Anchor{Event: "apogee", Offset: 2 * s},
		})
		r.Outputs = append(r.Outputs, harness.Edge{Output: sim.Output{Channel: i + 1, On: true, At: 10*s + sim.Time(i)*s}, Within: sim.Millisecond, Basis: harness.ByPin})
	}
	for _, c := range change {
		c(r)
	}
	return r
}

// today is the suite of a sheet that leaves nothing open.
func today() []SuiteFile {
	return []SuiteFile{{Name: "nominal", File: "scenarios/nominal.yaml", Digest: "d1"}}
}

// sheetOf makes the sheet of records that differ, in files of a folder.
func sheetOf(recs ...*harness.Record) Sheet {
	e := Evidence{By: harness.Maker{Version: "1"}}
	e.Compare([]string{"scenarios"}, today())
	for _, r := range recs {
		e.Add(sourceOf(r), r)
	}
	return e.Sheet()
}

func ExampleEvidence() {
	e := Evidence{By: harness.Maker{Version: "1"}}
	e.Add(Source{File: "out/nominal.record", Sum: "0a1b"}, flown())
	s := e.Sheet()
	fmt.Println(s.Answer(), s.Pass, "pass,", len(s.Points), "open:", s.Points[0].Text)
	// Output: unsure 1 pass, 1 open: no suite was named, so nothing tells whether a scenario is missing or has changed since
}

// sourceOf stands for a record's bytes.
func sourceOf(r *harness.Record) Source {
	return Source{"out/" + r.Plan.Name + ".record", fmt.Sprint(r.Plan, r.Made, r.Outputs, r.Health, r.Cause, r.Pace, r.Conflicts)}
}

func keys(s *Sheet) (out []string) {
	for _, p := range s.Points {
		out = append(out, p.Key)
	}
	return out
}

func TestNothingIsOpen(t *testing.T) {
	s := sheetOf(flown())
	assert.Empty(t, s.Points)
	assert.Equal(t, harness.Pass, s.Answer())
	require.Len(t, s.Outputs, 2)
	assert.Equal(t, Output{
		Role: "upper", Name: "drogue", Channels: []int{2}, Does: "opens top.drogue", Demands: []Count{{"fires", 1}}, Fired: 1, RealTime: 1,
		Known: []Count{{"pin", 1}}, Closest: s.Outputs[0].Closest,
	}, s.Outputs[0])
	assert.InDelta(t, 0.5, s.Outputs[0].Closest.Finding.Share, 1e-9, "1 s inside a window of 4 s: half of its half")
	assert.Equal(t, "out/nominal.record", s.Outputs[0].Closest.Record)
	assert.Equal(t, "fires the igniter of top", s.Outputs[1].Does)
	assert.Equal(t, 2, len(s.Closest))
	assert.Equal(t, "upper.drogue fires about apogee", s.Closest[0].Finding.Text)
}

// Every kind of point has a record that raises it; flown raises none.
func TestEachKindOfPoint(t *testing.T) {
	health := func(change func(*harness.Health)) func(*harness.Record) {
		return func(r *harness.Record) { change(&r.Health[0]) }
	}
	at := func(address string) func(*harness.Record) {
		return func(r *harness.Record) { r.Made.Boards = []string{address} }
	}
	named := func(name string, more func(*harness.Record)) *harness.Record {
		return flown(func(r *harness.Record) { r.Plan.Name, r.Plan.File = name, "scenarios/"+name+".yaml"; more(r) })
	}
	lockstep := func(r *harness.Record) { r.Pace, r.Late = harness.Pace{}, nil }
	met := map[Kind]bool{}
	for _, c := range []struct {
		reason string
		recs   []*harness.Record
		kind   Kind
		key    string
		says   string
		more   []Kind // raised as well, since one thing leads to the other
	}{
		{"an output that fires too late", []*harness.Record{flown(func(r *harness.Record) { r.Outputs[1].At = 19 * sim.Second })}, Fails, "scenario nominal",
			"nominal fails: upper.drogue fires about apogee", []Kind{NotDemanded, NeverFired, NotTied, LockstepOnly}},
		{"a pin that tells otherwise", []*harness.Record{flown(), named("other", func(r *harness.Record) { r.Conflicts = []harness.Conflict{{Channel: 2, HasSeen: true}} })}, Conflicts, "conflict upper.drogue",
			"upper.drogue: board and pin tell different things, in other", []Kind{Fails}},
		{"a conflict of an output that isn't there", []*harness.Record{flown(), named("other", func(r *harness.Record) { r.Conflicts = []harness.Conflict{{Bay: 5, Channel: 9}} })}, Conflicts, "conflict output 9 of board 6",
			"output 9 of board 6", []Kind{Fails}},
		{"a board that starts again unasked", []*harness.Record{flown(), named("other", health(func(h *harness.Health) { h.Unasked = 1 }))}, Restarts, "restarts upper", "upper restarted unasked, in other", []Kind{Unsure}},
		{"a fault that changed nothing", []*harness.Record{flown(), named("other", func(r *harness.Record) { r.Plan.Setup.Faults = []sim.Fault{{Kind: sim.Spike, Part: sim.PartBaro}} })}, Unsure, "scenario other",
			"other is unsure: fault 1", nil},
		{"a cable that came off", []*harness.Record{flown(), named("other", func(r *harness.Record) { r.Cause = "board: no answer" })}, CutShort, "cut_short other",
			"other was cut short: board: no answer", []Kind{Unsure}},
		{"no word on a board's health", []*harness.Record{flown(), named("other", func(r *harness.Record) { r.Health = nil })}, Unsure, "scenario other", "other is unsure: upper: the link is whole", nil},
		{"a frame lost", []*harness.Record{flown(), named("other", health(func(h *harness.Health) { h.Lost = 1 }))}, FramesLost, "frames_lost upper", "upper: frames lost or corrupt, in other", []Kind{Unsure}},
		{"another vehicle", []*harness.Record{flown(), named("other", func(r *harness.Record) { r.Plan.Setup.Vehicle.Name = "Robin" })}, OtherVehicle, "other_vehicle ",
			"the records are of 2 vehicles: Robin in other; Wren in nominal", nil},
		{"another board", []*harness.Record{flown(), named("other", health(func(h *harness.Health) { h.Name = "yours" }))}, OtherBoard, "other_board upper",
			"2 boards sat as upper: mine in nominal; yours in other", nil},
		{"another drystage", []*harness.Record{flown(), named("other", func(r *harness.Record) { r.Made.Version = "2" })}, OtherVersion, "other_version ",
			"this is drystage 1, which judges by its own rules, and another version made records: drystage 2 in other", nil},
		{"another drystage, all alike", []*harness.Record{flown(func(r *harness.Record) { r.Made.Version = "2" })}, OtherVersion, "other_version ",
			"this is drystage 1, which judges by its own rules, and another version made records: drystage 2 in nominal", nil},
		{"records that don't say who made them", []*harness.Record{flown(func(r *harness.Record) { r.Made.Version = "" })}, OtherVersion, "other_version ",
			"another version made records: drystage of an unknown version in nominal", nil},
		{"two states of a scenario's files", []*harness.Record{flown(), flown(func(r *harness.Record) { r.Plan.Digest = "d0" })}, OtherFiles, "other_files nominal",
			"the records of nominal are of 2 different states of its files", nil},
		{"a file that has no record", []*harness.Record{named("other", func(*harness.Record) {})}, NoRecord, "scenario nominal", "nominal has no record", nil},
		{"a file that has changed", []*harness.Record{flown(func(r *harness.Record) { r.Plan.Digest = "d0" })}, Changed, "scenario nominal", "nominal was flown, but its files have changed since", nil},
		{"the mock", []*harness.Record{flown(at("mock:late-drogue"))}, BuiltIn, "built_in ", "upper: the built-in mock flew, which proves nothing of a real board (mock:late-drogue in nominal)", nil},
		{"a program", []*harness.Record{flown(at("exec:./mine"))}, Emulated, "emulated ", "proves the logic and not the hardware (exec:./mine in nominal)", nil},
		{"an emulator", []*harness.Record{flown(at("tcp:localhost:5000"))}, Emulated, "emulated ", "tcp:localhost:5000", nil},
		{"no word on where the board was", []*harness.Record{flown(func(r *harness.Record) { r.Made.Boards = nil })}, NoAddress, "no_address ", "not on record", nil},
		{"an address that nobody knows", []*harness.Record{flown(at("smoke:signals"))}, NoAddress, "no_address ", "smoke:signals", nil},
		{"an output that nothing is asked of", []*harness.Record{flown(func(r *harness.Record) { r.Plan.Expect = r.Plan.Expect[:1] })}, NotDemanded, "not_demanded upper.drogue",
			"upper.drogue (opens top.drogue): no scenario that passes demands anything of it", nil},
		{"an output that stays dark", []*harness.Record{flown(func(r *harness.Record) {
			r.Plan.Expect[1].Kind, r.Outputs = harness.Once, r.Outputs[:1]
		})}, NeverFired, "never_fired upper.drogue", "it fired in no scenario that passes", nil},
		{"a parachute without an output", []*harness.Record{flown(func(r *harness.Record) { r.Plan.Setup.Bays[0].Wires[1].Effect = sim.Effect{} })}, NotTied, "not_tied Wren top.drogue",
			"top.drogue of Wren: no output in a scenario that passes acts on it", nil},
		{"a motor without an output", []*harness.Record{flown(func(r *harness.Record) { r.Plan.Setup.Bays[0].Wires[0].Effect.Stage = 1 })}, NotTied, "not_tied Wren igniter of top", "igniter of top of Wren", nil},
		{"a charge between stages without an output", []*harness.Record{flown(func(r *harness.Record) { r.Plan.Setup.Vehicle.Stages[1].Separation.Mode = sim.ByCharge })}, NotTied,
			"not_tied Wren separation charge of bottom", "separation charge of bottom of Wren", nil},
		{"lockstep alone", []*harness.Record{flown(lockstep)}, LockstepOnly, "lockstep_only ", "upper: nothing passed in real time", nil},
		{"no pin", []*harness.Record{flown(func(r *harness.Record) { r.Outputs[0].Basis = harness.ByClock })}, NoPin, "no_pin upper.ignite", "in real time no time of it rests on a pin", nil},
		{"a pin that nobody measured", []*harness.Record{flown(func(r *harness.Record) {
			r.Unmeasured = []harness.Unmeasured{{Channel: 2, Within: sim.Millisecond, Why: "the rig was never measured", Next: "measure it"}}
		})}, NotMeasured, "not_measured upper.drogue", "upper.drogue: the rig was never measured, in nominal", nil},
		{"a close call", []*harness.Record{flown(func(r *harness.Record) { r.Outputs[1].At = 11*sim.Second + 900*sim.Millisecond })}, CloseCall, "close nominal",
			"nominal passes closely, with 5.0 % to spare (below 10 % is close): upper.drogue fires", nil},
		{"inertia that nobody measured", []*harness.Record{flown(func(r *harness.Record) { r.Plan.Setup.Vehicle.Stages[1].Inertia.Estimated = true })}, Estimated, "estimated Wren bottom",
			"inertia of bottom estimated", nil},
	} {
		t.Run(c.reason, func(t *testing.T) {
			s := sheetOf(c.recs...)
			i := slices.IndexFunc(s.Points, func(p Point) bool { return p.Kind == c.kind })
			require.GreaterOrEqual(t, i, 0, "%v", keys(&s))
			assert.Equal(t, c.key, s.Points[i].Key)
			assert.Contains(t, s.Points[i].Text, c.says)
			allowed := append(c.more, c.kind)
			for _, p := range s.Points {
				assert.Contains(t, allowed, p.Kind, p.Text)
			}
			want := harness.Unsure
			if slices.Contains(allowed, Fails) {
				want = harness.Fail
			}
			assert.Equal(t, want, s.Answer())
			met[c.kind] = true
		})
	}
	e := Evidence{By: harness.Maker{Version: "1"}}
	e.Add(sourceOf(flown()), flown())
	s := e.Sheet()
	require.Len(t, s.Points, 1, "without a suite nothing was compared")
	met[s.Points[0].Kind] = true
	assert.Equal(t, harness.Unsure, s.Answer())
	for k := range NoRecord + 1 {
		assert.True(t, met[k], "no row raises %s", k)
	}
}

// What a launch controller, a burning stage below or drag does needs no output.
func TestWhatNeedsNoOutput(t *testing.T) {
	for _, c := range []struct {
		reason string
		wired  bool // an output lights the upper motor
		change func(v *sim.Vehicle)
	}{
		{"the lowest motor is lit by the launch controller", true, func(*sim.Vehicle) {}},
		{"drag parts the stages", true, func(v *sim.Vehicle) { v.Stages[1].Separation.Mode = sim.ByDrag }},
		{"the motor below lights it through the gap", false, func(v *sim.Vehicle) { v.Stages[1].Separation.Mode = sim.ByGap }},
		{"an empty mount", false, func(v *sim.Vehicle) { v.Stages[0].Mount = sim.Mount{} }},
	} {
		s := sheetOf(flown(func(r *harness.Record) {
			c.change(&r.Plan.Setup.Vehicle)
			if !c.wired {
				r.Plan.Setup.Bays[0].Wires[0].Effect = sim.Effect{}
			}
		}))
		assert.Empty(t, s.Points, c.reason)
	}
}

// A board that passes nothing proves nothing: what an unsure record shows stays open.
func TestOnlyAPassProves(t *testing.T) {
	s := sheetOf(flown(func(r *harness.Record) { r.Health[0].Lost = 1 }))
	for _, k := range []string{"never_fired upper.drogue", "not_demanded upper.ignite", "not_tied Wren top.drogue", "lockstep_only "} {
		assert.Contains(t, keys(&s), k)
	}
	assert.Equal(t, 0, s.Outputs[0].Fired)
	require.NotNil(t, s.Outputs[0].Closest, "but how close it was is told")
}

// A record is read as a stranger's: its numbers may mean nothing.
func TestMalformedRecords(t *testing.T) {
	for _, c := range []struct {
		reason string
		spoil  func(r *harness.Record)
	}{
		{"no states", func(r *harness.Record) { r.States = nil }},
		{"a fault of no stage", func(r *harness.Record) { r.Plan.Setup.Faults = []sim.Fault{{Kind: sim.DeadIgniter, Stage: 9}} }},
		{"an output of no board", func(r *harness.Record) { r.Outputs[0].Bay = 9 }},
		{"a time that rests on nothing known", func(r *harness.Record) { r.Outputs[0].Basis = 77 }},
		{"an expectation on no board", func(r *harness.Record) { r.Plan.Expect[0].Output.Bay = -1 }},
		{"a kind of expectation that nobody knows", func(r *harness.Record) { r.Plan.Expect[0].Kind = 99 }},
		{"no health", func(r *harness.Record) { r.Health = nil }},
		{"a device that isn't there", func(r *harness.Record) { r.Plan.Setup.Bays[0].Wires[1].Effect.Device = -3 }},
		{"nothing at all", func(r *harness.Record) { *r = harness.Record{} }},
	} {
		t.Run(c.reason, func(t *testing.T) {
			s := sheetOf(flown(c.spoil))
			assert.NotEqual(t, harness.Pass, s.Answer())
			require.NotEmpty(t, s.Points)
		})
	}
	var none Evidence
	s := none.Sheet()
	assert.Equal(t, harness.Unsure, s.Answer(), "a sheet of nothing")
}

// The sheet shares no memory with a record, whose memory serves the next.
func TestARecordIsItsCallersAgain(t *testing.T) {
	var e Evidence
	r := flown()
	e.Add(sourceOf(r), r)
	before := fmt.Sprintf("%+v", e.Sheet().Outputs[0].Closest)
	r.Plan.Expect[1].Text, r.Plan.Setup.Bays[0].Wires[1].Name = "spoilt", "spoilt"
	r.Reset()
	assert.Equal(t, before, fmt.Sprintf("%+v", e.Sheet().Outputs[0].Closest))
	assert.NotContains(t, fmt.Sprintf("%+v", e.Sheet()), "spoilt")
}

// A copy of a record is the same evidence, not more of it.
func TestACopyCountsOnce(t *testing.T) {
	var e Evidence
	r := flown()
	e.Add(Source{"z/nominal.record", "1"}, r)
	e.Add(Source{"a/nominal.record", "1"}, r)
	s := e.Sheet()
	require.Len(t, s.Scenarios, 1)
	require.Len(t, s.Scenarios[0].Records, 1)
	assert.Equal(t, []string{"a/nominal.record", "z/nominal.record"}, s.Scenarios[0].Records[0].Files)
	assert.Equal(t, "a/nominal.record", s.Closest[0].Record)
	assert.Equal(t, 1, s.Tried.Scenarios)
	assert.Equal(t, "record 1\n", s.Inputs())
}

// anyRecord draws a record that may pass, fail or be unsure, of a few names.
func anyRecord(t *rapid.T) *harness.Record {
	return flown(func(r *harness.Record) {
		r.Plan.Name = rapid.SampledFrom([]string{"nominal", "other", "third"}).Draw(t, "name")
		r.Plan.Digest = rapid.SampledFrom([]string{"d1", "d0"}).Draw(t, "digest")
		r.Plan.Setup.Seed = rapid.Uint64Range(1, 3).Draw(t, "seed")
		r.Plan.Setup.Vehicle.Name = rapid.SampledFrom([]string{"Wren", "Wren", "Robin"}).Draw(t, "vehicle")
		r.Plan.Setup.Vehicle.Stages[0].Inertia.Estimated = rapid.Bool().Draw(t, "estimated")
		r.Made.Boards = []string{rapid.SampledFrom([]string{"serial:/dev/ttyACM0", "mock", "exec:x", ""}).Draw(t, "address")}
		r.Made.Version = rapid.SampledFrom([]string{"1", "2"}).Draw(t, "version")
		r.Health[0].Name = rapid.SampledFrom([]string{"mine", "yours"}).Draw(t, "board")
		r.Health[0].Lost = rapid.SampledFrom([]int{0, 0, 1}).Draw(t, "lost")
		r.Health[0].Unasked = rapid.SampledFrom([]int{0, 0, 1}).Draw(t, "unasked")
		r.Cause = rapid.SampledFrom([]string{"", "", "", "", "board: no answer"}).Draw(t, "cut")
		if rapid.Bool().Draw(t, "lockstep") {
			r.Pace, r.Late = harness.Pace{}, nil
		}
		if rapid.Bool().Draw(t, "untied") {
			r.Plan.Setup.Bays[0].Wires[0].Effect = sim.Effect{}
		}
		if rapid.Bool().Draw(t, "undemanded") {
			r.Plan.Expect = r.Plan.Expect[:1]
		}
		for i := range r.Outputs {
			r.Outputs[i].Basis = harness.Basis(rapid.IntRange(0, 3).Draw(t, "basis"))
			r.Outputs[i].At = 10*sim.Second + sim.Time(rapid.Int64Range(-25e8, 25e8).Draw(t, "at"))
		}
		r.Outputs = r.Outputs[:rapid.IntRange(0, 2).Draw(t, "edges")]
	})
}

// A record that fails only adds to what is open: it closes no point, and never makes a failing sheet pass.
func TestAFailingRecordClosesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		recs := rapid.SliceOfN(rapid.Custom(anyRecord), 0, 5).Draw(t, "records")
		before := sheetOf(recs...)
		failing := anyRecord(t)
		failing.Outputs = []harness.Edge{{Output: sim.Output{Channel: 1, On: true, At: sim.Second}, Basis: harness.ByPin}}
		failing.Cause = ""
		after := sheetOf(append(recs, failing)...)
		for _, k := range keys(&before) {
			if !slices.Contains(keys(&after), k) {
				t.Fatalf("a failing record closed %q; left: %v", k, keys(&after))
			}
		}
		if after.Answer() != harness.Fail {
			t.Fatalf("a failing record, and the sheet says %s", after.Answer())
		}
	})
}

// A point more never makes a sheet better, a record more never makes a failing sheet anything else.
func TestAFailingSheetStaysOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		recs := rapid.SliceOfN(rapid.Custom(anyRecord), 1, 5).Draw(t, "records")
		before, after := sheetOf(recs...), sheetOf(append(recs, anyRecord(t))...)
		if before.Answer() == harness.Fail && after.Answer() != harness.Fail {
			t.Fatal("a record more made a failing sheet", after.Answer())
		}
	})
}

// The order in which records come changes nothing.
func TestOrderChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		recs := rapid.SliceOfN(rapid.Custom(anyRecord), 1, 6).Draw(t, "records")
		want := shown(sheetOf(recs...))
		if got := shown(sheetOf(rapid.Permutation(recs).Draw(t, "order")...)); got != want {
			t.Fatalf("one order:\n%s\nanother:\n%s", want, got)
		}
	})
}

// shown is all of a sheet as text, pointers followed.
func shown(s Sheet) string {
	var b strings.Builder
	for _, o := range s.Outputs {
		c := o.Closest
		o.Closest = nil
		fmt.Fprintf(&b, "%+v %+v\n", o, c)
	}
	s.Outputs = nil
	fmt.Fprintf(&b, "%+v\n%s", s, s.Inputs())
	return b.String()
}

// A command line flies on what flew, and never on the mock because nobody said where the board is.
func TestCommands(t *testing.T) {
	at := func(address, name string) *harness.Record {
		return flown(func(r *harness.Record) {
			r.Plan.Name, r.Plan.File, r.Plan.Digest = name, "scenarios/"+name+".yaml", name
			r.Made.Boards, r.Pace, r.Late = []string{address}, harness.Pace{}, nil
		})
	}
	for _, c := range []struct {
		reason string
		recs   []*harness.Record
		kind   Kind
		want   string
	}{
		{"a board on its port is flown on a rig", []*harness.Record{at("serial:/dev/ttyACM0", "other")}, NoRecord,
			"drystage bench scenarios/nominal.yaml --board upper=serial:/dev/ttyACM0 --rig RIG --out out"},
		{"the mock needs no word", []*harness.Record{at("mock", "other")}, NoRecord, "drystage bench scenarios/nominal.yaml --out out"},
		{"its defect does", []*harness.Record{at("mock:x", "other")}, NoRecord, "drystage bench scenarios/nominal.yaml --board upper=mock:x --out out"},
		{"two addresses: only a person knows", []*harness.Record{at("mock", "other"), at("exec:x", "third")}, NoRecord, "drystage bench scenarios/nominal.yaml --board upper=ADDR --out out"},
		{"no address", []*harness.Record{at("", "other")}, NoRecord, "drystage bench scenarios/nominal.yaml --board upper=ADDR --out out"},
		{"real time beside lockstep, not over it", []*harness.Record{at("exec:x", "other")}, LockstepOnly, "drystage bench scenarios --board upper=exec:x --out out/real-time --real-time"},
		{"a real board, beside the mock's records", []*harness.Record{at("mock", "other")}, BuiltIn, "drystage bench scenarios --board upper=serial:PORT --rig RIG --out out-board"},
		{"a close call again, with another seed, in real time as it was", []*harness.Record{flown(func(r *harness.Record) { r.Outputs[1].At = 12*sim.Second - 9*sim.Millisecond })}, CloseCall,
			"drystage bench scenarios/nominal.yaml --board upper=serial:/dev/ttyACM0 --rig RIG --seed 8 --real-time"},
	} {
		s := sheetOf(c.recs...)
		i := slices.IndexFunc(s.Points, func(p Point) bool { return p.Kind == c.kind })
		require.GreaterOrEqual(t, i, 0, c.reason)
		assert.Equal(t, c.want, strings.Join(s.Points[i].Command, " "), c.reason)
	}
	for file, want := range map[string]string{"a/b/c.record": "a/b", "c.record": ".", "/c.record": "/", "../c.record": ".."} {
		assert.Equal(t, want, folder(file))
	}
}

// A margin that is no number decides nothing.
func TestNoNumberIsNoCloseCall(t *testing.T) {
	f := harness.Finding{HasMargin: true, Share: math.NaN()}
	assert.False(t, measured(&f))
}

func TestClosestKeepsTen(t *testing.T) {
	var recs []*harness.Record
	for i := range 8 {
		recs = append(recs, flown(func(r *harness.Record) {
			r.Plan.Name = fmt.Sprint("s", i)
			r.Outputs[1].At = 10*sim.Second + sim.Time(i+1)*200*sim.Millisecond
		}))
	}
	s := sheetOf(recs...)
	require.Len(t, s.Closest, Calls)
	assert.Equal(t, "s7", s.Closest[0].Scenario, "the latest is the closest to the end of its window")
	assert.True(t, slices.IsSortedFunc(s.Closest, func(a, b Call) int { return cmp.Compare(a.Finding.Share, b.Finding.Share) }))
}

// The weather counts for scenarios that pass.
func TestDays(t *testing.T) {
	at := func(name string, change func(*sim.Setup)) *harness.Record {
		return flown(func(r *harness.Record) { r.Plan.Name = name; change(&r.Plan.Setup) })
	}
	s := sheetOf(
		at("a", func(s *sim.Setup) {
			s.Wind.Speed, s.Vehicle.Site, s.Vehicle.Rail.Tilt = 3, sim.Site{Temperature: 288, Pressure: 96000}, 0.05
		}),
		at("b", func(s *sim.Setup) {
			s.Wind, s.Vehicle.Site = sim.Wind{Speed: 99, Aloft: []sim.WindLevel{{Speed: 7}, {Speed: 20}}, Gusts: []sim.Gust{{Peak: 4}, {Peak: 2}}}, sim.Site{Temperature: 263, Pressure: 97000}
		}),
		flown(func(r *harness.Record) { r.Plan.Name, r.Plan.Setup.Wind.Speed, r.Outputs = "failed", 30, nil }),
	)
	assert.Equal(t, Days{true, Range{3, 7}, 4, Range{263, 288}, Range{96000, 97000}, Range{0, 0.05}}, s.Days)
	s = sheetOf(flown(func(r *harness.Record) { r.Outputs = nil }))
	assert.Equal(t, Days{}, s.Days)
}

// The list for the field promises nothing.
func TestFieldPromisesNothing(t *testing.T) {
	require.NotEmpty(t, Field())
	for _, x := range Field() {
		assert.NotRegexp(t, "(?i)safe to|ready to|go for", x)
	}
}
