package record

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"io"
	"testing"

	"github.com/klauspost/compress/zstd"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/num/quat"

	"drystage/harness"
	"drystage/sim"
	"drystage/sim/r3"
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

// squeezed is what blocks compress.
func squeezed(b []byte) []byte {
	z, _ := zstd.NewWriter(nil)
	return z.EncodeAll(b, nil)
}

// described is a block of columns with a description and no bits.
func described(meta, bits []byte) []byte {
	z := squeezed(meta)
	return append(append(binary.LittleEndian.AppendUint32(nil, uint32(len(z))), z...), bits...)
}

// apart gives the description and the bits of a block of columns.
func apart(t testing.TB, content []byte) (meta, bits []byte) {
	n := 4 + binary.LittleEndian.Uint32(content)
	z, err := zstd.NewReader(nil)
	require.NoError(t, err)
	defer z.Close()
	meta, err = z.DecodeAll(content[4:n], nil)
	require.NoError(t, err)
	return meta, content[n:]
}

// ticksOf is the content of a block of all ticks of a record.
func ticksOf(t testing.TB, rec *harness.Record) []byte {
	var b bytes.Buffer
	w, err := newWriter()
	require.NoError(t, err)
	w.w = &b
	require.NoError(t, w.columns(tickBlock, func(e *encoder) { newTicks(&rec.Plan.Setup, &w.grids).pack(e, rec, 0, rec.Ticks()) }))
	return b.Bytes()[5 : b.Len()-4]
}

// sealed makes a record file of blocks with right checksums, so that what is wrong lies inside.
func sealed(blocks ...any) []byte {
	for i := 0; i < len(blocks); i += 2 {
		if blocks[i] == byte(headBlock) {
			blocks[i+1] = squeezed(blocks[i+1].([]byte))
		}
	}
	return plainly(magic, blocks...)
}

// plainly does so with contents as they are.
func plainly(start string, blocks ...any) []byte {
	out := []byte(start)
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
	made := []byte(`{"Made":{"Version":"0a1b2c3d4e5f"},"Complete":true}`)
	noFault := make([]byte, 8*9) // a column of kinds and those of the only kind, all of them constant
	stages := `{"Plan":{"Setup":{"Vehicle":{"Stages":[{}]},"Bays":[{}]}}`
	for _, c := range []struct {
		reason string
		text   []byte
		words  string
	}{
		{"nothing at all", nil, `found ""`},
		{"another kind of file", []byte("\x7fELF and so on and on"), "this is no record"},
		{"an older version, whose head is damaged", []byte("drystage record 1\nxxx"), "an older version of drystage wrote this record"},
		{"an older version", plainly("drystage record 2\n", h, made), "drystage 0a1b2c3d4e5f, an older version, wrote this record, and it lacks what proves that it is whole; fly its scenario again"},
		{"the version before", plainly("drystage record 3\n", h, made), `found "drystage record 3\n", wanted "drystage record 4\n": drystage 0a1b2c3d4e5f, an older version, wrote this record, in a format that is no longer read; show it with that one, or fly its scenario again`},
		{"a newer version", []byte("drystage record 5\nxxx"), "a newer drystage wrote this record"},
		{"a head that is not compressed", plainly(magic, h, made), "a head that can't be unpacked"},
		{"a head that unpacks to too much", sealed(h, make([]byte, 2*largestHead)), "wanted at most"},
		{"a head that unpacks to all memory", plainly(magic, h, endless()), "can't be unpacked"},
		{"a head that is no JSON", sealed(h, []byte("{")), "JSON"},
		{"no stages", sealed(h, []byte(`{}`)), "found 0 stages"},
		{"a promise of endless ticks", sealed(h, []byte(stages+`,"Ticks":99999999999}`)), "wanted at most"},
		{"ticks below nothing", sealed(h, []byte(stages+`,"Ticks":-1}`)), "wanted at most"},
		{"a board on no stage", sealed(h, []byte(`{"Plan":{"Setup":{"Vehicle":{"Stages":[{}]},"Bays":[{"Stage":7}]}}}`)), "stage 7"},
		{"a promise of endless injections", sealed(h, []byte(stages+`,"Injected":99999999999}`)), "99999999999 injections"},
		{"fewer injections than promised", sealed(h, []byte(stages+`,"Injected":5}`), e, []byte{}), "found a block"},
		{"injections that are no columns", sealed(h, []byte(stages+`,"Injected":5}`), byte(injectBlock), []byte("garbage")), "can't be unpacked"},
		{"an injection by no fault", sealed(h, []byte(stages+`,"Injected":1}`), byte(injectBlock), described(noFault, nil)), "fault 0 into board 0, of which there are 0 and 1"},
		{"more injections than promised", sealed(h, []byte(stages+`,"Injected":1}`), byte(injectBlock), described(append(noFault, 0), nil)), "holds more"},
		{"a promise of endless reports", sealed(h, []byte(stages+`,"Reports":99999999999}`)), "99999999999 reports"},
		{"fewer reports than promised", sealed(h, []byte(stages+`,"Reports":5}`), e, []byte{}), "0 of 5 reports"},
		{"reports that are no columns", sealed(h, []byte(stages+`,"Reports":5}`), byte(reportBlock), []byte("garbage")), "a block of reports that can't be unpacked"},
		{"a report of nobody", sealed(h, []byte(stages+`,"Reports":1}`), byte(reportBlock), described(append([]byte{0, 7}, make([]byte, 7+6*9)...), nil), e, []byte{}), "report 0 is of board 7 of 1"},
		{"a description that is said to be longer than its block", sealed(h, []byte(stages+`,"Ticks":5}`), byte(tickBlock), []byte{9, 0, 0, 0, 1}), "too short"},
		{"no description", sealed(h, []byte(stages+`,"Ticks":5}`), byte(tickBlock), described(nil, nil)), "don't fit together"},
		{"fewer ticks than promised", sealed(h, []byte(stages+`,"Ticks":5}`), e, []byte{}), "after 0 of 5 ticks"},
		{"ticks that are no columns", sealed(h, []byte(stages+`,"Ticks":5}`), byte(tickBlock), []byte("garbage")), "can't be unpacked"},
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

// endless is a frame of zstd that says it holds 1 TB.
func endless() []byte {
	// Magic, a descriptor of a single segment with its size in 8 bytes, the size, and a block that repeats a byte.
	b := append([]byte{0x28, 0xb5, 0x2f, 0xfd, 0xe0}, binary.LittleEndian.AppendUint64(nil, 1<<40)...)
	return append(b, 0xfb, 0xff, 0xff, 0)
}

// Block by block, a record that is cut anywhere gives what was whole, and then says that it is cut.
func TestBlocksBeforeACutAreRead(t *testing.T) {
	rec := sample()
	rec.Late = nil
	whole := bytesOf(t, rec)
	last := 0
	for n := len(magic); n < len(whole); n += 1 + len(whole)/300 {
		in, got, err := Open(bytes.NewReader(whole[:n]))
		for err == nil {
			err = in.Next(&got)
		}
		require.ErrorIs(t, err, ErrCut, "cut at byte %d", n)
		require.GreaterOrEqual(t, got.Ticks(), last)
		last = got.Ticks()
		require.Zero(t, last%perBlock*(rec.Ticks()-last), "whole blocks")
		require.Equal(t, rec.Times[:last], append([]sim.Time{}, got.Times...))
		require.Equal(t, rec.States[:2*last], append([]sim.State{}, got.States...))
		require.Equal(t, rec.Frames[:2*last], append([]sim.Frame{}, got.Frames...))
	}
	require.Equal(t, rec.Ticks(), last, "all ticks, before reports and injections")
}

// Whoever empties the lists as he reads never holds more than a block.
func TestBlocksAreReadWithoutTheWholeInMemory(t *testing.T) {
	rec := sample()
	rec.Late = nil
	in, got, err := Open(bytes.NewReader(bytesOf(t, rec)))
	require.NoError(t, err)
	var times []sim.Time
	for err = in.Next(&got); err == nil; err = in.Next(&got) {
		require.LessOrEqual(t, got.Ticks(), perBlock)
		times = append(times, got.Times...)
		got.Times, got.Active, got.States, got.Frames = got.Times[:0], got.Active[:0], got.States[:0], got.Frames[:0]
	}
	require.ErrorIs(t, err, io.EOF)
	require.Equal(t, rec.Times, times)
}

func FuzzRead(f *testing.F) {
	f.Add(bytesOf(f, short()))
	f.Fuzz(func(t *testing.T, b []byte) {
		if rec, err := Read(bytes.NewReader(b)); err == nil {
			bytesOf(t, &rec)
		}
	})
}
