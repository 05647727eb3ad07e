package mock_test

import (
	"bytes"
	"io"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/boardtest"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/harness/board/mock"
	"drystage/harness/files/scenario"
	"drystage/harness/run/loop"
	"drystage/harness/setting"
	"drystage/sim/world"
)

// TestLaws: the built-in board, and all but one with a defect, pass the checks of the contract; the defects are in the
// flight logic.
func TestLaws(t *testing.T) {
	names := []string{""}
	for _, d := range mock.Defects() {
		names = append(names, d.Name)
	}
	for _, name := range names {
		g, err := mock.New(name)
		require.NoError(t, err)
		seat := harness.Board{Role: "sustainer", Settings: []harness.Setting{{Name: "drogue_channel", Value: 1}}}
		err = boardtest.Check(board.NewClient(link.Memory(g), seat, boardtest.Bay(), board.Options{}))
		if name == "fires-at-power-up" {
			assert.ErrorContains(t, err, "Unarmed:2", "it lights outputs before arming, and after the power cut again")
			continue
		}
		assert.NoError(t, err, "%q", name)
	}
}

// plans loads the shipped scenarios.
func plans(t *testing.T) (out []harness.Plan) {
	fsys := os.DirFS("../../../scenarios")
	list, err := os.ReadDir("../../../scenarios")
	require.NoError(t, err)
	for _, e := range list {
		if !strings.HasSuffix(e.Name(), ".yaml") {
			continue
		}
		p, problems := scenario.Load(fsys, e.Name())
		require.Empty(t, problems, e.Name())
		out = append(out, p)
	}
	require.NotEmpty(t, out)
	return out
}

// TestSettingsOfTheSuite: each setting that a shipped scenario gives a board is one of the board's own,
// in range, and accepted as given.
func TestSettingsOfTheSuite(t *testing.T) {
	rows := map[string]setting.Def{}
	for _, s := range mock.Settings() {
		rows[s.Name] = s
	}
	seen := map[string]bool{}
	for _, p := range plans(t) {
		for _, b := range p.Boards {
			g, err := mock.New("")
			require.NoError(t, err)
			var enc contract.Encoder
			g.Feed(enc.Hello(nil, &contract.Hello{Version: 1}), nil)
			for _, s := range b.Settings {
				row, ok := rows[s.Name]
				require.True(t, ok, "%s: board %s: no setting %q", p.Name, b.Role, s.Name)
				assert.True(t, s.Value >= row.Min && s.Value <= row.Max, "%s: %s %g", p.Name, s.Name, s.Value)
				set := contract.Setting{Value: contract.Milli(s.Value)}
				copy(set.Name[:], s.Name)
				want := contract.Accept{Name: set.Name, Value: set.Value, Known: 1}
				assert.Equal(t, want, accepted(t, g.Feed(enc.Setting(nil, &set), nil)), "%s: %s", p.Name, s.Name)
				seen[s.Name] = true
			}
		}
	}
	for _, name := range []string{"staging_channel", "drogue_channel", "main_channel", "staging_max_tilt", "staging_by_command", "main_height"} {
		assert.True(t, seen[name], "no scenario sets %s", name)
	}
}

func accepted(t *testing.T, in []byte) (a contract.Accept) {
	f, _, ok := contract.NewDecoder(contract.FromBoard).Next(in)
	require.True(t, ok)
	require.Equal(t, contract.CodeAccept, f.Code)
	require.NoError(t, a.Decode(f.Payload))
	return a
}

// tap is a board that records the bytes of its line.
type tap struct {
	g       *mock.Board
	in, out [][]byte
}

func (w *tap) Feed(in, out []byte) []byte {
	n := len(out)
	out = w.g.Feed(in, out)
	w.in, w.out = append(w.in, bytes.Clone(in)), append(w.out, bytes.Clone(out[n:]))
	return out
}

// flown flies a shipped scenario in the world with boards without defects, and gives the last board's line.
func flown(t *testing.T, name string) (*tap, *harness.Record) {
	p, problems := scenario.Load(os.DirFS("../../../scenarios"), name)
	require.Empty(t, problems)
	var boards []board.Board
	var last *tap
	for i, b := range p.Boards {
		g, err := mock.New("")
		require.NoError(t, err)
		last = &tap{g: g}
		boards = append(boards, board.NewClient(link.Memory(last), b, &p.Setup.Bays[i], board.Options{}))
	}
	rec := &harness.Record{Plan: p}
	require.NoError(t, loop.Run(t.Context(), world.New(&p.Setup), boards, loop.Lockstep{}, rec))
	return last, rec
}

// TestServeIsTheBoard plays a complete flight of the world again over a pipe, with the bytes split anywhere: the same
// bytes come back.
func TestServeIsTheBoard(t *testing.T) {
	line, rec := flown(t, "nominal.yaml")
	require.True(t, rec.Complete())
	in, want := bytes.Join(line.in, nil), bytes.Join(line.out, nil)
	for _, c := range []struct {
		reason string
		size   int // bytes in a write
	}{{"a byte or two", 2}, {"about a frame", 37}, {"more than it takes at once", 5000}} {
		hostIn, boardOut := io.Pipe()
		boardIn, hostOut := io.Pipe()
		ended := make(chan error, 1)
		go func() {
			ended <- mock.Serve(pipe{boardIn, boardOut}, "")
			boardOut.Close()
		}()
		go func() {
			for rest := in; len(rest) > 0; {
				n, _ := hostOut.Write(rest[:min(c.size, len(rest))])
				rest = rest[n:]
			}
			hostOut.Close()
		}()
		got, err := io.ReadAll(hostIn)
		require.NoError(t, err)
		require.NoError(t, <-ended, c.reason)
		assert.True(t, bytes.Equal(want, got), "%s: %d bytes, wanted %d", c.reason, len(got), len(want))
	}
}

type pipe struct {
	io.Reader
	io.Writer
}

// TestServeSaysWhyItEnds: a pipe that takes no answer is an error.
func TestServeSaysWhyItEnds(t *testing.T) {
	var enc contract.Encoder
	in := bytes.NewReader(enc.Hello(nil, &contract.Hello{Version: 1}))
	_, w := io.Pipe()
	w.Close()
	assert.EqualError(t, mock.Serve(pipe{in, w}, ""), "mock: the answer could not be sent: io: read/write on closed pipe")
	assert.NoError(t, mock.Serve(pipe{bytes.NewReader([]byte("no frame at all")), w}, ""), "the end of the pipe")
}

// TestStoryOfTheWorld holds the boards' logs of a nominal flight of the world; numbers are masked.
func TestStoryOfTheWorld(t *testing.T) {
	_, rec := flown(t, "nominal.yaml")
	var story []string
	for _, l := range rec.Logs {
		story = append(story, rec.Plan.Boards[l.Bay].Role+": "+digits.ReplaceAllString(l.Text, "N"))
	}
	assert.Equal(t, strings.Split(strings.TrimSpace(nominalStory), "\n"), story)
}

var digits = regexp.MustCompile(`-?[0-9]+`)

const nominalStory = `
sustainer: armed
booster: armed
sustainer: liftoff by acceleration
booster: liftoff by acceleration
booster: burnout
sustainer: burnout
sustainer: staging
sustainer: thrust
sustainer: burnout
booster: apogee at N m
booster: main at N m
sustainer: apogee at N m
sustainer: drogue
sustainer: main at N m
booster: landed
`
