package benchtest

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board/link"
	"drystage/harness/board/mock"
	"drystage/harness/files/record"
	"drystage/scenarios"
	"drystage/sim"
)

// TestMain lets the test binary play a board.
func TestMain(m *testing.M) {
	if len(os.Args) > 1 && os.Args[1] == "play" {
		line := struct {
			io.Reader
			io.Writer
		}{os.Stdin, os.Stdout}
		if err := mock.Serve(line, ""); err != nil && !errors.Is(err, io.EOF) {
			os.Exit(1)
		}
		return
	}
	os.Exit(m.Run())
}

// judge is a testing.TB that remembers what was said against a board.
type judge struct {
	testing.TB
	said []string
}

func (j *judge) Helper()                   {}
func (j *judge) Error(a ...any)            { j.said = append(j.said, fmt.Sprint(a...)) }
func (j *judge) Errorf(f string, a ...any) { j.said = append(j.said, fmt.Sprintf(f, a...)) }
func (j *judge) Fatalf(f string, a ...any) { j.Errorf(f, a...); runtime.Goexit() }
func (j *judge) Fatal(a ...any)            { j.Error(a...); runtime.Goexit() }
func (j *judge) FailNow()                  { runtime.Goexit() }

func against(t *testing.T, file string, opt Options) string {
	j := &judge{TB: t}
	var w sync.WaitGroup
	w.Go(func() { Fly(j, file, opt) })
	w.Wait()
	return strings.Join(j.said, "\n")
}

// short is a scenario that ends at liftoff.
func short(t *testing.T) string {
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, scenarios.Files))
	name := filepath.Join(dir, "short.yaml")
	require.NoError(t, os.WriteFile(name, []byte("drystage: scenario\nlike: nominal.yaml\nlaunch: 2.2 s\nuntil: liftoff\nexpect:\n  - {never: sustainer.main}\n"), 0o600))
	return name
}

const nominal = "../../../scenarios/nominal.yaml"

func TestFlyFailsTheTest(t *testing.T) {
	wrong := filepath.Join(t.TempDir(), "wrong.yaml")
	require.NoError(t, os.WriteFile(wrong, []byte("drystage: scenario\nlaunch: 5 m\n"), 0o600))
	mock := []string{"mock"}
	for _, c := range []struct {
		reason, file string
		opt          Options
		words        string
	}{
		{"a board with a defect", "scenarios/sustainer-dead.yaml", Options{Board: []string{"mock:stages-twice"}}, "fail: sustainer.ignite fires at most once"},
		{"a board that does not open", nominal, Options{Link: func(string) (link.Link, error) { return nil, errors.New("no such port") }}, "board sustainer: no such port"},
		{"a wrong file", wrong, Options{Board: mock}, "wrong.yaml:2:9: found \"5 m\""},
		{"no board", nominal, Options{}, "no board: give Options a Board or a Link"},
		{"a board of no role", nominal, Options{Board: []string{"booser=mock"}}, "found no board booser"},
		{"a main that opens at another height", nominal, Options{Board: mock, Settings: map[string]float64{"sustainer.main_height": 300}}, "fail: sustainer.main fires"},
		{"a setting that the board does not know", nominal, Options{Board: mock, Settings: map[string]float64{"horn": 1}}, "horn"},
		{"a setting of no board", nominal, Options{Board: mock, Settings: map[string]float64{"nose.main_height": 300}}, "setting nose.main_height: no scenario here has a board of that role"},
		{"a flight that takes too long", nominal, Options{Board: mock, TimeLimit: time.Nanosecond}, "the flight took longer than 1ns"},
		{"a board at a socket, and nobody has confirmed", nominal, Options{Board: []string{"tcp:127.0.0.1:9"}}, "refused: say Inert"},
		{"a wired board without a rig", nominal, Options{Board: []string{"serial:/dev/ttyUSB9"}, Inert: true}, "no rig declares the dummy loads"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			c.opt.Records = t.TempDir()
			require.Contains(t, against(t, c.file, c.opt), c.words)
		})
	}
}

// A run in real time takes the processors for itself, as far as it may: it must not run beside other tests.
func TestWallFramesThatLeaveLate(t *testing.T) {
	require.Contains(t, against(t, short(t), Options{Board: []string{"mock"}, RealTime: true, LateLimit: time.Nanosecond, Records: t.TempDir()}), "unsure: ")
}

// The record of a flight that did not pass is kept and can be read; that of one that passed is not.
func TestRecordsAreKept(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "records")
	seed := uint64(7)
	opt := Options{Board: []string{"mock"}, Seed: &seed, Records: dir}
	require.Empty(t, against(t, nominal, opt))
	require.NoDirExists(t, dir)
	opt.Settings = map[string]float64{"sustainer.main_height": 300}
	require.NotEmpty(t, against(t, nominal, opt))
	f, err := os.Open(filepath.Join(dir, "nominal.record"))
	require.NoError(t, err)
	defer f.Close()
	rec, err := record.Read(bufio.NewReader(f))
	require.NoError(t, err)
	require.Equal(t, seed, rec.Plan.Setup.Seed)
	require.Contains(t, rec.Plan.Boards[0].Settings, harness.Setting{Name: "main_height", Value: 300})
	require.Equal(t, []string{"mock", "mock"}, rec.Made.Boards)
}

// The limit of answers is that of the options. The flight fails, so that there is a record.
func TestAnswerLimit(t *testing.T) {
	name, dir := short(t), t.TempDir()
	require.NoError(t, os.WriteFile(name, []byte("drystage: scenario\nlike: nominal.yaml\nlaunch: 2.2 s\nuntil: liftoff\nexpect:\n  - {fires: sustainer.main, from: start, to: start + 1 s}\n"), 0o600))
	require.NotEmpty(t, against(t, name, Options{Board: []string{"exec:" + os.Args[0] + " play"}, AnswerLimit: 7 * time.Second, Records: dir}))
	f, err := os.Open(filepath.Join(dir, "short.record"))
	require.NoError(t, err)
	defer f.Close()
	rec, err := record.Read(bufio.NewReader(f))
	require.NoError(t, err)
	require.Equal(t, 7*sim.Second, rec.Health[0].Answers.Limit)
}

// Boards on a simulated rig, with a setting of all boards.
func TestOnARig(t *testing.T) {
	require.Empty(t, against(t, short(t), Options{Board: []string{"mock"}, Rig: "scenarios/rigs/simulated.yaml", Settings: map[string]float64{"pulse": 0.9}}))
}

// Every scenario below a folder is a subtest of its name.
func TestSuiteFliesAll(t *testing.T) {
	var asked []string
	t.Run("suite", func(t *testing.T) {
		Suite(t, filepath.Dir(short(t))+"/short.yaml", Options{Link: func(role string) (link.Link, error) {
			asked = append(asked, t.Name()+" "+role)
			guest, err := mock.New("")
			return link.Memory(guest), err
		}})
	})
	require.Len(t, asked, 2)
}
