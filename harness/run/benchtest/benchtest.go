// Package benchtest flies scenario files against a team's own boards from go test. It never says that a test
// passed when a run was unsure.
//
// A real board's outputs are live: dummy loads only, no motor, igniter or charge connected.
package benchtest

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"drystage/harness"
	"drystage/harness/board/link"
	"drystage/harness/files/record"
	"drystage/harness/files/suite"
	"drystage/harness/judge/verdict"
	"drystage/harness/run"
)

// Options say where boards are and how scenarios are flown. Board or Link is needed; all else may be left out.
type Options struct {
	Board []string                             // each ADDR or ROLE=ADDR, as drystage bench --board takes them
	Link  func(role string) (link.Link, error) // opens a board's line in place of an address; it is closed after the flight
	NMEA  []string                             // each ROLE=ADDR: where a board's NMEA 0183 input is

	Rig   string   // the file of the rig that the boards are on
	Guard []string // starts the guard of a real rig's pins, such as {"drystage", "guard"}
	Inert bool     // I confirm: no motor, igniter or charge is connected to any board, only dummy loads

	Seed *uint64 // flown in place of the scenario's own
	// Settings are given to the boards over those of their files, in SI: of all boards by NAME, of one by ROLE.NAME. A
	// record of such a flight differs from its files, as drystage show tells.
	Settings map[string]float64

	RealTime    bool          // by the clock on the wall, against the boards' own clocks
	Timeout     time.Duration // of one answer, after which a board counts as silent; 0: 2 s
	AnswerLimit time.Duration // an answer that takes longer leaves the run unsure; 0: as the board's file says
	LateLimit   time.Duration // in real time: a frame that leaves later leaves the run unsure
	TimeLimit   time.Duration // of a whole flight by the clock on the wall; 0: none but go test -timeout

	// Records is the folder for records of flights that did not pass, in which drystage show NAME.record tells more.
	// Empty: the test's artifact folder, which go test -artifacts keeps.
	Records string
}

// Fly flies one scenario file and fails the test for every finding that is not a pass. The verdict is for further
// questions. A file that is not on the disk may be a shipped one, such as scenarios/nominal.yaml.
func Fly(t testing.TB, file string, opt Options) harness.Verdict {
	t.Helper()
	plans, bench := opt.open(t, file)
	if len(plans) != 1 {
		t.Fatalf("%s holds %d scenarios; Fly takes one file, Suite a folder", file, len(plans))
	}
	return opt.fly(t, bench, plans)
}

// Suite flies every scenario below a folder, each as a subtest with the scenario's name, one after the other.
func Suite(t *testing.T, folder string, opt Options) {
	t.Helper()
	plans, bench := opt.open(t, folder)
	for i := range plans {
		t.Run(plans[i].Name, func(t *testing.T) { opt.fly(t, bench, plans[i:i+1]) })
	}
}

// open loads the scenarios and makes a bench for them, which is closed at the end of the test.
func (opt *Options) open(t testing.TB, path string) ([]harness.Plan, *run.Bench) {
	t.Helper()
	if len(opt.Board) == 0 && opt.Link == nil {
		t.Fatal("no board: give Options a Board or a Link; the built-in one flies as Board: []string{\"mock\"}")
	}
	s, err := suite.Load([]string{path}, t.Output())
	if err == nil {
		err = opt.change(s.Plans)
	}
	var bench *run.Bench
	if err == nil {
		bench, err = run.Open(t.Context(), opt.run(t), s.Plans)
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := bench.Close(); err != nil {
			t.Error(err)
		}
	})
	return s.Plans, bench
}

func (opt *Options) run(t testing.TB) run.Options {
	return run.Options{
		Boards: opt.Board, Link: opt.Link, NMEA: opt.NMEA, Rig: opt.Rig, Guard: opt.Guard,
		RealTime: opt.RealTime, Timeout: opt.Timeout, AnswerLimit: opt.AnswerLimit, LateLimit: opt.LateLimit,
		Jobs: 1, Notes: t.Output(), Confirm: func() error {
			if opt.Inert {
				return nil
			}
			return run.RefusedError{Err: errors.New("refused: say Inert once you have checked that only dummy loads are connected")}
		},
	}
}

// change gives plans the seed and the settings of the options.
func (opt *Options) change(plans []harness.Plan) error {
	for i := range plans {
		if opt.Seed != nil {
			plans[i].Setup.Seed = *opt.Seed
		}
	}
	for name, value := range opt.Settings {
		if !set(plans, name, value) {
			return harness.Errorf("setting %s: no scenario here has a board of that role", name)
		}
	}
	return nil
}

// set gives a setting to all boards that its name means, and says whether there is one.
func set(plans []harness.Plan, name string, value float64) (found bool) {
	role, of, one := strings.Cut(name, ".")
	if !one {
		of = name
	}
	for i := range plans {
		for k := range plans[i].Boards {
			b := &plans[i].Boards[k]
			if one && b.Role != role {
				continue
			}
			found = true
			b.Settings = slices.DeleteFunc(slices.Clone(b.Settings), func(s harness.Setting) bool { return s.Name == of })
			b.Settings = append(b.Settings, harness.Setting{Name: of, Value: value})
		}
	}
	return found
}

// fly flies the only plan and tells the test what did not pass.
func (opt *Options) fly(t testing.TB, bench *run.Bench, plans []harness.Plan) (v harness.Verdict) {
	t.Helper()
	ctx := t.Context()
	if opt.TimeLimit > 0 {
		limited, cancel := context.WithTimeout(ctx, opt.TimeLimit)
		defer cancel()
		ctx = limited
	}
	err := bench.Fly(ctx, plans, func(_ int, rec *harness.Record) error {
		v = verdict.Judge(rec)
		if v.Answer == harness.Pass {
			return nil
		}
		return opt.keep(t, rec)
	})
	switch {
	case errors.Is(err, context.DeadlineExceeded):
		t.Fatalf("%s: the flight took longer than %s", plans[0].File, opt.TimeLimit)
	case err != nil:
		t.Fatal(err)
	}
	for _, f := range v.Findings {
		if f.Answer != harness.Pass {
			t.Errorf("%s: %s: %s: %s", f.Place, f.Answer, f.Text, f.Reason)
		}
	}
	if v.Answer != harness.Pass {
		t.Errorf("%s: %s", plans[0].File, v.Answer)
	}
	return v
}

// keep writes a record.
func (opt *Options) keep(t testing.TB, rec *harness.Record) error {
	t.Helper()
	dir := opt.Records
	if dir == "" {
		dir = t.ArtifactDir()
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	name := filepath.Join(dir, rec.Plan.Name+".record")
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	t.Logf("record: %s", name)
	return errors.Join(record.Write(f, rec), f.Close())
}
