package main

import (
	"bytes"
	"encoding/json"
	"io"
	"math"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/sim"
)

// spoken copies the shipped suite to a folder and gives the sustainer's receiver a port.
func spoken(t *testing.T, port string) (folder string) {
	folder = t.TempDir()
	require.NoError(t, os.CopyFS(folder, os.DirFS(root+"/scenarios")))
	f, err := os.OpenFile(folder+"/boards/sustainer.yaml", os.O_APPEND|os.O_WRONLY, 0)
	require.NoError(t, err)
	_, err = f.WriteString(port)
	require.NoError(t, err)
	require.NoError(t, f.Close())
	return folder
}

// listen takes one connection and gives all that comes on it.
func listen(t *testing.T, network, address string) (where string, all func() []byte) {
	l, err := net.Listen(network, address)
	require.NoError(t, err)
	got := make(chan []byte, 1)
	go func() {
		defer l.Close()
		c, err := l.Accept()
		if err != nil {
			got <- nil
			return
		}
		defer c.Close()
		b, _ := io.ReadAll(c)
		got <- b
	}()
	return l.Addr().String(), func() []byte {
		select {
		case b := <-got:
			return b
		case <-time.After(20 * time.Second):
			t.Fatal("the port was not closed")
			return nil
		}
	}
}

func command(t *testing.T, args ...string) (code int, out, errs string) {
	var o, e bytes.Buffer
	code = execute(args, &console{ctx: t.Context(), in: strings.NewReader(""), out: &o, err: &e})
	return code, o.String(), e.String()
}

// heard is what the decoder makes of sentences, as far as it is read here.
type heard struct {
	Class, Time      string
	Mode             int
	Lat, Lon, AltMSL float64
	Speed, Track     *float64
}

// TestAPortSaysWhatIsSent flies a scenario whose receiver has a port, with a fault of the receiver, and
// holds what came out of it, through an independent decoder, against the fixes that were sent.
func TestAPortSaysWhatIsSent(t *testing.T) {
	for _, c := range []struct {
		network, scenario string
		rate              int // sets a second
		fixed             int // at least, with a fix
	}{{"unix", "gnss-jump", 10, 500}, {"tcp", "gnss-no-fix", 5, 100}} {
		t.Run(c.network, func(t *testing.T) {
			at := "127.0.0.1:0"
			if c.network == "unix" {
				at = filepath.Join(t.TempDir(), "gnss")
			}
			where, all := listen(t, c.network, at)
			folder := spoken(t, "nmea: {rate: "+map[int]string{5: "5 Hz", 10: "10 Hz"}[c.rate]+", start: 2026-06-30T23:59:00Z}\n")
			code, out, errs := command(t, "bench", "-q", "--inert", "--nmea", "sustainer="+c.network+":"+where, "--out", folder+"/out", folder+"/"+c.scenario+".yaml")
			require.Equal(t, passed, code, out+errs)
			text := all()

			name := folder + "/out/" + c.scenario + ".record"
			rec, err := load(name)
			require.NoError(t, err)
			code, out, errs = command(t, "show", name, "--nmea", "-")
			require.Equal(t, passed, code, errs)
			require.Equal(t, string(text), out, "what came out is on record, byte for byte")
			require.Equal(t, len(rec.NMEA), rec.Health[0].Port.Sent)
			require.Zero(t, rec.Health[0].Port.Lost)
			require.Zero(t, rec.Health[1].Port, "the booster's receiver has no port")

			start, fixes := time.Date(2026, 6, 30, 23, 59, 0, 0, time.UTC), map[string]sim.Fix{}
			for tick, now := range rec.Times {
				if f := rec.Frame(tick, 0); f.Powered && f.Has&sim.HasGNSS != 0 {
					fixes[start.Add(time.Duration(now)).Format("2006-01-02T15:04:05.000Z")] = f.GNSS
				}
			}
			fixed, unfixed := compareFixes(t, decoded(t, text), fixes)
			assert.GreaterOrEqual(t, fixed, c.fixed)
			if c.scenario == "gnss-no-fix" {
				assert.Positive(t, unfixed, "the loss of the fix is heard as well")
			}
		})
	}
}

// decoded has the sentences decoded by gpsd's decoder.
func decoded(t *testing.T, text []byte) (list []heard) {
	tool, err := exec.LookPath("gpsdecode")
	switch {
	case err != nil && os.Getenv("DRYSTAGE_TOOLS") == "all":
		t.Fatal("gpsdecode is missing: make tools")
	case err != nil:
		t.Skip("no gpsdecode here: apt-get install gpsd-clients")
	}
	cmd := exec.Command(tool, "-j")
	cmd.Stdin = bytes.NewReader(text)
	out, err := cmd.Output()
	require.NoError(t, err)
	for line := range strings.Lines(string(out)) {
		var h heard
		require.NoError(t, json.Unmarshal([]byte(line), &h), line)
		if h.Class == "TPV" {
			list = append(list, h)
		}
	}
	return list
}

// compareFixes holds reports against the fixes of their times: position within the 1e-5 minutes, height
// within the decimetre, speed within the 0.01 knot and course within the 0.1 degree of the format.
func compareFixes(t *testing.T, list []heard, fixes map[string]sim.Fix) (fixed, unfixed int) {
	const degree = math.Pi / 180
	for _, h := range list {
		f, known := fixes[h.Time]
		if !known {
			continue // before the first date
		}
		if f.Kind == sim.NoFix {
			assert.LessOrEqual(t, h.Mode, 1, h.Time)
			unfixed++
			continue
		}
		if h.Mode != 3 || h.Track == nil || h.Speed == nil {
			continue // a set of which the decoder has had GGA alone, and takes the speed from two places
		}
		require.InDelta(t, f.Latitude/degree, h.Lat, 1e-5/60, h.Time)
		require.InDelta(t, f.Longitude/degree, h.Lon, 1e-5/60, h.Time)
		require.InDelta(t, f.Height, h.AltMSL, 0.051, h.Time)
		speed := math.Hypot(f.Velocity.X, f.Velocity.Y)
		require.InDelta(t, speed, *h.Speed, 0.006*1852/3600, h.Time)
		if speed > 1 {
			off := math.Remainder(*h.Track-math.Atan2(f.Velocity.X, f.Velocity.Y)/degree, 360)
			require.InDelta(t, 0, off, 0.051, h.Time)
		}
		fixed++
	}
	return fixed, unfixed
}

// A port that nobody reads ends in an unsure verdict that names it, in bounded time.
func TestAPortThatNobodyReadsIsNamed(t *testing.T) {
	l, err := net.Listen("unix", filepath.Join(t.TempDir(), "gnss"))
	require.NoError(t, err)
	defer l.Close()
	folder := spoken(t, "nmea: {}\n")
	code, out, errs := command(t, "bench", "-q", "--inert", "--nmea", "sustainer=unix:"+l.Addr().String(), folder+"/nominal.yaml")
	assert.Equal(t, unsure, code, errs)
	flat := strings.Join(strings.Fields(out), " ")
	assert.Contains(t, flat, "sustainer: its receiver's port unix:")
	assert.Contains(t, flat, "nobody reads it")
}

// What opens a port is said on the command line, confirmed, and held against what the boards have.
func TestPortsAreOpenedByTheCommandLineAlone(t *testing.T) {
	folder := spoken(t, "nmea: {}\n")
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer l.Close()
	here := "tcp:" + l.Addr().String()
	for _, c := range []struct {
		reason string
		args   []string
		code   int
		want   string
	}{
		{"nothing listens", []string{"--inert", "--nmea", "sustainer=unix:/nowhere/gnss"}, misused, "--nmea sustainer=unix:/nowhere/gnss can't be opened: .*does anything listen there"},
		{"nobody has confirmed", []string{"--nmea", "sustainer=" + here}, refused, "CAUTION(.|\n)*refused: say --inert"},
		{"no role", []string{"--inert", "--nmea", here}, misused, "wanted ROLE=ADDR"},
		{"a program", []string{"--inert", "--nmea", "sustainer=exec:cat"}, misused, "a port starts no program"},
		{"an unknown kind", []string{"--inert", "--nmea", "sustainer=udp:there:1"}, misused, "unknown kind"},
		{"a board without the input", []string{"--inert", "--nmea", "booster=" + here}, misused, "no scenario here has a board booster with an input for NMEA 0183"},
		{"no such board", []string{"--inert", "--nmea", "boster=" + here}, misused, "a board boster with"},
		{"two addresses", []string{"--inert", "--nmea", "sustainer=" + here, "--nmea", "sustainer=unix:x"}, misused, "one address for each board"},
		{"too slow", []string{"--inert", "--nmea", "sustainer=serial:/dev/ttyUSB9?baud=9600"}, misused, "found a line of 9600 baud, wanted at least 32800"},
	} {
		code, out, errs := command(t, append([]string{"bench", "-q", folder + "/nominal.yaml"}, c.args...)...)
		assert.Equal(t, c.code, code, c.reason)
		assert.Regexp(t, c.want, errs, c.reason)
		assert.Empty(t, out, c.reason)
	}
	require.NoError(t, l.(*net.TCPListener).SetDeadline(time.Now()))
	_, err = l.Accept()
	assert.ErrorIs(t, err, os.ErrDeadlineExceeded, "nobody has called")

	old := spoken(t, "nmea: {port: \""+here+"\"}\n")
	code, _, errs := command(t, "bench", "-q", "--inert", old+"/nominal.yaml")
	assert.Equal(t, misused, code)
	assert.Regexp(t, `boards/sustainer\.yaml:\d+:8: found unknown key "port".*say --nmea BOARD=ADDR on the command line`, errs)
}

func TestShowSentences(t *testing.T) {
	folder := t.TempDir()
	code, out, errs := command(t, "bench", "-q", "--out", folder, root+"/scenarios/stays-on-rail.yaml")
	require.Equal(t, passed, code, out+errs)
	name := folder + "/stays-on-rail.record"
	code, out, _ = command(t, "show", name, "--nmea", folder+"/x.nmea", "--role", "booster")
	assert.Equal(t, passed, code)
	assert.Regexp(t, `x\.nmea: \d+ sets of sentences of booster`, out)
	text, err := os.ReadFile(folder + "/x.nmea")
	require.NoError(t, err)
	assert.True(t, bytes.HasPrefix(text, []byte("$GPGGA,120000.00,4706.")), "a board without a port: of each fix")
	whole, err := os.ReadFile(name)
	require.NoError(t, err)
	other := folder + "/other.record"
	require.NoError(t, os.WriteFile(other, whole, 0o644))
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"show", name, "--nmea", "-", "--role", "boster"}, `found board "boster", wanted sustainer or booster`},
		{[]string{"show", name, other, "--nmea", "-"}, "--nmea takes one record, found 2"},
		{[]string{"show", folder + "/none.record", "--nmea", "-"}, "no such file"},
	} {
		code, _, errs := command(t, c.args...)
		assert.Equal(t, misused, code, c.want)
		assert.Contains(t, errs, c.want)
	}
}
