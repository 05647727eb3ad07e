package record

import (
	"bytes"
	"compress/flate"
	"encoding/binary"
	"hash/crc32"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/num/quat"
	"gonum.org/v1/gonum/spatial/r3"

	"drystage/harness"
	"drystage/sim"
)

// sample is a record with something in every field, of more ticks than one block holds.
func sample() *harness.Record {
	rec := &harness.Record{
		Plan: harness.Plan{
			Name: "nominal", Title: "Good flight", Digest: "00ff", Files: []harness.File{{Name: "nominal.yaml", Text: "\ufeffdrystage: scenario\r\n"}, {Name: "log.csv", Sum: "00ff"}},
			Setup: sim.Setup{
				Seed: 1<<53 + 1, Launch: 5 * sim.Second,
				Vehicle: sim.Vehicle{Name: "Dunlin", Stages: []sim.Stage{{Name: "sustainer", Mass: 0.1 + 0.2}, {Name: "booster"}}},
				Bays:    []sim.Bay{{Name: "sustainer"}, {Name: "booster", Stage: 1}},
				Faults:  []sim.Fault{{Kind: sim.Spike, Value: -1.0 / 3, From: sim.Anchor{Event: "apogee", Offset: -sim.Second}}},
			},
			Boards: []harness.Board{{Role: "sustainer", Settings: []harness.Setting{{Name: "pulse", Value: 1e-3}}}, {Role: "booster", NMEA: harness.NMEA{Port: "unix:x", Rate: 5, Sentences: []string{"GGA"}}}},
			Expect: []harness.Expectation{{Kind: harness.Fires, Text: "fires: sustainer.drogue", HasFrom: true}},
		},
		Made:          harness.Maker{Version: "devel", Boards: []string{"mock", "mock"}},
		Late:          []sim.Time{},
		Events:        []sim.Event{{Name: "liftoff", At: 7 * sim.Millisecond}},
		Outputs:       []harness.Edge{{Output: sim.Output{Bay: 1, Channel: 2, On: true, At: 7}, Within: 3}},
		Reports:       []harness.Report{{Bay: 1, Phase: [16]byte{'c', 'o', 'a', 's', 't'}, Apogee: 953.556}},
		Logs:          []harness.Log{{Bay: 1, Text: "armed"}},
		Health:        []harness.Health{{Name: "mock", RoundTrips: 4}, {Port: harness.PortHealth{Address: "unix:x", Sent: 1, Lost: 1, Cause: "nobody reads it"}}},
		Injected:      []sim.Injection{{At: 5, Bay: 1, Part: sim.PartAccel, Was: r3.Vec{X: 1}, Is: r3.Vec{X: 2}}, {At: 7, Part: sim.PartGNSS, Dropped: true}},
		NMEA:          []harness.NMEASet{{Bay: 1, At: 9, Text: "$GPGGA\r\n"}, {At: 10, Text: "x", Lost: true}},
		Changes:       []harness.HealthChange{{At: 5, Bay: 1, Health: harness.Health{Name: "mock", Lost: 1}}},
		FlightOutputs: []sim.Output{{Bay: 1, Channel: 2, On: true, At: 5}},
	}
	for i := range perBlock + 10 {
		x := 1 / float64(i+3)
		rec.Times = append(rec.Times, sim.Time(i)*5*sim.Millisecond)
		rec.Active = append(rec.Active, uint64(i)<<60)
		for range 2 {
			rec.States = append(rec.States, sim.State{Position: r3.Vec{Z: x}, Attitude: quat.Number{Real: x, Kmag: -x}, Mass: x, Landed: i%2 == 0})
			rec.Frames = append(rec.Frames, sim.Frame{Now: sim.Time(i), Bay: 1, Due: true, Has: sim.HasGNSS, Accel: r3.Vec{X: x}, GNSS: sim.Fix{Latitude: x, Kind: sim.Fix3D, Satellites: 9}, Battery: 7.4})
		}
	}
	return rec
}

func bytesOf(t testing.TB, rec *harness.Record) []byte {
	var b bytes.Buffer
	require.NoError(t, Write(&b, rec))
	return b.Bytes()
}

func TestRoundTrip(t *testing.T) {
	rec := sample()
	rec.Late = nil
	got, err := Read(bytes.NewReader(bytesOf(t, rec)))
	require.NoError(t, err)
	require.Equal(t, rec, &got)
	require.Equal(t, bytesOf(t, rec), bytesOf(t, &got), "the same record gives the same bytes")

	rec.Late = make([]sim.Time, rec.Ticks())
	rec.Late[7] = 12
	got, err = Read(bytes.NewReader(bytesOf(t, rec)))
	require.NoError(t, err)
	require.Equal(t, rec, &got)
}

// TestDamage cuts and flips a short record at every byte, a long one at some: it is read whole, or refused; never half.
func TestDamage(t *testing.T) {
	long := sample() // two blocks of ticks, too long for every byte
	long.Late = nil
	for _, rec := range []*harness.Record{short(), long} {
		whole := bytesOf(t, rec)
		step := 1 + len(whole)/5000
		if rec == long {
			step = 1 + len(whole)/200
		}
		for n := 0; n < len(whole); n += step {
			_, err := Read(bytes.NewReader(whole[:n]))
			require.Error(t, err, "cut at byte %d", n)
			flipped := bytes.Clone(whole)
			flipped[n] ^= 0x10
			_, err = Read(bytes.NewReader(flipped))
			require.Error(t, err, "flipped at byte %d", n)
		}
		_, err := Read(bytes.NewReader(whole[:len(whole)-3]))
		require.ErrorIs(t, err, ErrCut)
	}
}

// sealed makes a record file of blocks with right checksums, so that what is wrong lies inside.
func sealed(blocks ...any) []byte {
	out := []byte(magic)
	for i := 0; i < len(blocks); i += 2 {
		content := blocks[i+1].([]byte)
		b := append([]byte{blocks[i].(byte)}, binary.LittleEndian.AppendUint32(nil, uint32(len(content)))...)
		b = append(b, content...)
		out = append(append(out, b...), binary.LittleEndian.AppendUint32(nil, crc32.Checksum(b, castagnoli))...)
	}
	return out
}

func TestHostileRecords(t *testing.T) {
	h, e := byte(headBlock), byte(endBlock)
	old := bytes.Replace(sealed(h, []byte(`{"Made":{"Version":"0a1b2c3d4e5f"},"Complete":true}`)), []byte("record 3"), []byte("record 2"), 1)
	stages := `{"Plan":{"Setup":{"Vehicle":{"Stages":[{}]},"Bays":[{}]}}`
	for _, c := range []struct {
		reason string
		text   []byte
		words  string
	}{
		{"nothing at all", nil, `found ""`},
		{"another kind of file", []byte("\x7fELF and so on and on"), "this is no record"},
		{"an older version, whose head is damaged", []byte("drystage record 1\nxxx"), "an older version of drystage wrote this record"},
		{"an older version", old, "drystage 0a1b2c3d4e5f, an older version, wrote this record, and it lacks what proves that it is whole; fly its scenario again"},
		{"a newer version", []byte("drystage record 4\nxxx"), "a newer drystage wrote this record"},
		{"a head that is no JSON", sealed(h, []byte("{")), "JSON"},
		{"no stages", sealed(h, []byte(`{}`)), "found 0 stages"},
		{"a promise of endless ticks", sealed(h, []byte(stages+`,"Ticks":99999999999}`)), "wanted at most"},
		{"ticks below nothing", sealed(h, []byte(stages+`,"Ticks":-1}`)), "wanted at most"},
		{"a board on no stage", sealed(h, []byte(`{"Plan":{"Setup":{"Vehicle":{"Stages":[{}]},"Bays":[{"Stage":7}]}}}`)), "stage 7"},
		{"a promise of endless injections", sealed(h, []byte(stages+`,"Injected":99999999999}`)), "99999999999 injections"},
		{"fewer injections than promised", sealed(h, []byte(stages+`,"Injected":5}`), e, []byte{}), "found a block"},
		{"injections that are no deflate stream", sealed(h, []byte(stages+`,"Injected":5}`), byte(injectBlock), []byte("garbage")), "can't be unpacked"},
		{"an injection by no fault", sealed(h, []byte(stages+`,"Injected":1}`), byte(injectBlock), deflated(make([]byte, binary.Size(packedInjection{})))), "fault 0 into board 0, of which there are 0 and 1"},
		{"more injections than promised", sealed(h, []byte(stages+`,"Injected":1}`), byte(injectBlock), deflated(make([]byte, 1+binary.Size(packedInjection{})))), "holds more"},
		{"fewer ticks than promised", sealed(h, []byte(stages+`,"Ticks":5}`), e, []byte{}), "after 0 of 5 ticks"},
		{"ticks that are no deflate stream", sealed(h, []byte(stages+`,"Ticks":5}`), byte(tickBlock), []byte("garbage")), "can't be unpacked"},
		{"a block that says it is endless", append([]byte(magic), 'T', 0xff, 0xff, 0xff, 0xff), "too large"},
		{"a head that never ends", append([]byte(magic), 'H', 0xff, 0xff, 0x0f, 0), ErrCut.Error()},
	} {
		t.Run(c.reason, func(t *testing.T) {
			_, err := Read(bytes.NewReader(c.text))
			require.ErrorContains(t, err, c.words)
			require.ErrorContains(t, err, "record: at byte ")
		})
	}
}

func deflated(b []byte) []byte {
	var out bytes.Buffer
	z, _ := flate.NewWriter(&out, flate.BestSpeed)
	z.Write(b)
	z.Close()
	return out.Bytes()
}

func FuzzRead(f *testing.F) {
	f.Add(bytesOf(f, short()))
	f.Fuzz(func(t *testing.T, b []byte) {
		if rec, err := Read(bytes.NewReader(b)); err == nil {
			bytesOf(t, &rec)
		}
	})
}
