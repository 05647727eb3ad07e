package record

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"drystage/harness"
	"drystage/sim"
)

// fill puts something into every field, however deep, so that a field which the format forgets, now or
// when a noun grows, makes the round trip fail.
func fill(t *rapid.T, v reflect.Value, path string) {
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			fill(t, v.Field(i), path+"."+v.Type().Field(i).Name)
		}
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 1, 1))
		fill(t, v.Index(0), path+"[0]")
	case reflect.Array:
		for i := range v.Len() {
			fill(t, v.Index(i), fmt.Sprintf("%s[%d]", path, i))
		}
	case reflect.Bool:
		v.SetBool(true)
	case reflect.String:
		v.SetString(rapid.StringMatching(`[a-z ü<>&"\\\x{2028}]{1,8}`).Draw(t, path))
	case reflect.Float64:
		v.SetFloat(rapid.Float64().Filter(func(x float64) bool { return x != 0 }).Draw(t, path))
	case reflect.Float32:
		v.SetFloat(float64(rapid.Float32Range(0.5, 1).Draw(t, path)))
	case reflect.Int, reflect.Int64:
		v.SetInt(rapid.Int64Range(1, math.MaxInt32).Draw(t, path))
	case reflect.Uint8:
		v.SetUint(rapid.Uint64Range(1, 255).Draw(t, path))
	case reflect.Uint16:
		v.SetUint(rapid.Uint64Range(1, 65535).Draw(t, path))
	case reflect.Uint64:
		v.SetUint(rapid.Uint64Min(1).Draw(t, path))
	default:
		t.Fatalf("%s is a %s: teach fill, and see that the format holds it", path, v.Kind())
	}
}

// full is a record of one tick, two stages and two boards with something in every field.
func full(t *rapid.T) *harness.Record {
	var rec harness.Record
	fill(t, reflect.ValueOf(&rec).Elem(), "rec")
	// Two of each, so that an index has something to point to besides 0.
	s := &rec.Plan.Setup
	s.Vehicle.Stages[0].Recovery = append(s.Vehicle.Stages[0].Recovery, s.Vehicle.Stages[0].Recovery[0])
	s.Vehicle.Stages, rec.States = append(s.Vehicle.Stages, s.Vehicle.Stages[0]), append(rec.States, rec.States[0])
	b := &s.Bays[0]
	b.Stage, b.Wires[0].Effect = 1, sim.Effect{Kind: sim.Deploy, Stage: 1, Device: 1}
	s.Bays, rec.Frames = append(s.Bays, s.Bays[0]), append(rec.Frames, rec.Frames[0])
	f := &s.Faults[0]
	f.Kind, f.Bay, f.Part, f.Stage, f.Device = sim.Spike, 1, sim.PartBaro, 1, 1
	s.Faults = append(s.Faults, s.Faults[0])
	x := &rec.Injected[0]
	x.Fault, x.Bay, x.Part = 1, 1, sim.PartBaro
	e := &rec.Outputs[0]
	e.Bay, e.Channel, e.At, e.Basis = 1, 3, rec.Times[0], harness.ByPin
	rec.Events[0].At = rec.Times[0]
	a := &rec.Health[0].Answers
	a.Limit, a.Slowest, a.Bench = 3, 2, 1
	for _, bay := range []*int{&rec.Reports[0].Bay, &rec.Logs[0].Bay, &rec.NMEA[0].Bay, &rec.Readings[0].Bay, &rec.Clocks[0].Bay, &rec.Unmeasured[0].Bay} {
		*bay = 1
	}
	return &rec
}

func TestEveryFieldSurvives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rec := full(t)
		var b bytes.Buffer
		require.NoError(t, Write(&b, rec))
		got, err := Read(&b)
		require.NoError(t, err)
		require.Equal(t, rec, &got)
	})
}

// Every bit of a number counts: a second judgement of a record has to give the same bytes.
func TestNumbersOfTicksSurviveToTheBit(t *testing.T) {
	odd := []float64{math.Copysign(0, -1), math.SmallestNonzeroFloat64, math.MaxFloat64, 0.1 + 0.2}
	rec := sample()
	rec.Late = nil
	for i, x := range odd {
		rec.States[i].Mass, rec.Frames[i].Pressure = x, x
	}
	got, err := Read(bytes.NewReader(bytesOf(t, rec)))
	require.NoError(t, err)
	for i, x := range odd {
		assert.Equal(t, math.Float64bits(x), math.Float64bits(got.States[i].Mass), x)
		assert.Equal(t, math.Float64bits(x), math.Float64bits(got.Frames[i].Pressure), x)
	}
}

func TestNumbersOfThePlanSurviveOrAreRefused(t *testing.T) {
	for _, x := range []float64{math.Copysign(0, -1), math.SmallestNonzeroFloat64, math.MaxFloat64, 0.1 + 0.2} {
		rec := sample()
		rec.Plan.Expect[0].Most = x
		got, err := Read(bytes.NewReader(bytesOf(t, rec)))
		require.NoError(t, err)
		assert.Equal(t, math.Float64bits(x), math.Float64bits(got.Plan.Expect[0].Most), x)
	}
	for _, x := range []float64{math.Inf(1), math.NaN()} {
		rec := sample()
		rec.Plan.Expect[0].Most = x
		assert.ErrorContains(t, Write(&bytes.Buffer{}, rec), "unsupported value", "JSON has no word for it")
	}
}

func TestWriteRefusesWhatCouldNotBeRead(t *testing.T) {
	for _, c := range []struct {
		reason string
		spoil  func(r *harness.Record)
		says   string
	}{
		{"a state too few", func(r *harness.Record) { r.States = r.States[1:] }, "don't fit together"},
		{"a frame too few", func(r *harness.Record) { r.Frames = r.Frames[1:] }, "don't fit together"},
		{"active faults for some ticks only", func(r *harness.Record) { r.Active = r.Active[1:] }, "don't fit together"},
		{"lateness for some ticks only", func(r *harness.Record) { r.Late = make([]sim.Time, 3) }, "don't fit together"},
		{"no stage", func(r *harness.Record) { r.Plan.Setup.Vehicle.Stages = nil }, "found 0 stages"},
		{"a board on no stage", func(r *harness.Record) { r.Plan.Setup.Bays[0].Stage = 9 }, "stage 9 of 2"},
		{"a state that is no number", func(r *harness.Record) { r.States[7].Air.Y = math.NaN() }, "malformed, so that nobody could judge it: the true state of stage 1 at tick 3, 0.015 s"},
		{"a sample that is no number", func(r *harness.Record) { r.Frames[7].Pressure = math.Inf(1) }, "the frame of board 1 at tick 3"},
		{"an injection that is no number", func(r *harness.Record) { r.Injected[0].Is.X = math.NaN() }, "injection 0"},
		{"an edge of nobody", func(r *harness.Record) { r.Outputs[0].Bay = 2 }, "edge 0"},
		{"an event after the end", func(r *harness.Record) { r.Events[0].At = 3600 * sim.Second }, "comes after the end"},
		{"endless talk", func(r *harness.Record) { r.Logs[0].Text = strings.Repeat("x", largestHead) }, "let the board say less"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			rec := sample()
			c.spoil(rec)
			var b bytes.Buffer
			assert.ErrorContains(t, Write(&b, rec), c.says)
			assert.Empty(t, b.Bytes(), "nothing was written")
		})
	}
}

// short is a record of three ticks.
func short() *harness.Record {
	rec := sample()
	rec.Late = nil
	rec.Times, rec.Active, rec.States, rec.Frames = rec.Times[:3], rec.Active[:3], rec.States[:6], rec.Frames[:6]
	return rec
}

// broken fails at byte n.
type broken struct{ left int }

var errFull = errors.New("disk full")

func (b *broken) Write(p []byte) (int, error) {
	if len(p) > b.left {
		return 0, errFull
	}
	b.left -= len(p)
	return len(p), nil
}

func TestAFailedWriteIsAnError(t *testing.T) {
	rec := short()
	size := len(bytesOf(t, rec))
	for n := 0; n < size; n += 1 + size/500 {
		require.ErrorIs(t, Write(&broken{n}, rec), errFull, "%d of %d bytes", n, size)
	}
}

func TestSealedButWrong(t *testing.T) {
	h, e := byte(headBlock), byte(endBlock)
	one := func(ticks string) []byte {
		return []byte(`{"Plan":{"Setup":{"Vehicle":{"Stages":[{},{},{},{}]},"Bays":[{}]}},"Ticks":` + ticks + `}`)
	}
	none := short()
	none.States[3].Mach = math.NaN()
	ticks := ticksOf(t, none)
	two := []byte(`{"Plan":{"Setup":{"Vehicle":{"Stages":[{},{}]},"Bays":[{},{}]}},"Ticks":3}`)
	single := short()
	single.Times, single.Active, single.States, single.Frames = single.Times[:1], single.Active[:1], slices.Repeat(single.States[:1], 4), single.Frames[:1]
	single.Plan.Setup.Vehicle.Stages, single.Plan.Setup.Bays = make([]sim.Stage, 4), single.Plan.Setup.Bays[:1]
	meta, bits := apart(t, ticksOf(t, single))
	long, loud := described(append(meta, make([]byte, 1<<20)...), bits), described(meta, append(bits, 1))
	for _, c := range []struct {
		reason string
		text   []byte
		says   string
	}{
		{"a state that is no number", sealed(h, two, byte(tickBlock), ticks, e, []byte{}), "found a malformed record: the true state of stage 1 at tick 1, 0.005 s, holds a number that is none"},
		{"an edge of nobody", sealed(h, []byte(`{"Outputs":[{"Bay":3}],`+string(one("0")[1:])), e, []byte{}), "edge 0 is of output 0 of board 3"},
		{"a field of a newer version", sealed(h, []byte(`{"Plan":{"Rig":1}}`)), `unknown field "Rig"`},
		{"more memory than there should be", sealed(h, one("20000000")), "end the scenario earlier"},
		{"more in a block than its ticks", sealed(h, one("1"), byte(tickBlock), long, e, []byte{}), "more than its ticks"},
		{"more bits in a block than its ticks", sealed(h, one("1"), byte(tickBlock), loud, e, []byte{}), "more than its ticks"},
		{"more after the end", append(sealed(h, one("0"), e, []byte{}), 0), "after the end"},
		{"a block after all ticks", sealed(h, one("0"), byte(tickBlock), long), "after 0 of 0 ticks"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			_, err := Read(bytes.NewReader(c.text))
			require.ErrorContains(t, err, c.says)
			require.ErrorContains(t, err, "record: at byte ")
		})
	}
}

// FuzzBlocks reads blocks whose checksums and compression are right, so that the fuzzer gets past them: a record is
// refused, or it can be written again.
func FuzzBlocks(f *testing.F) {
	meta, bits := apart(f, ticksOf(f, short()))
	f.Add([]byte(`{"Plan":{"Setup":{"Vehicle":{"Stages":[{},{}]},"Bays":[{},{}]}},"Ticks":3}`), meta, bits, byte(tickBlock))
	f.Add([]byte(`{"Late":true,"Plan":{"Setup":{"Vehicle":{"Stages":[{}]},"Bays":[{}]}},"Ticks":3}`), meta, bits, byte(tickBlock))
	f.Add([]byte(`{"Plan":{"Setup":{"Vehicle":{"Stages":[{}]},"Bays":[{}]}},"Reports":40}`), meta, bits, byte(reportBlock))
	f.Add([]byte(`{"Plan":{"Setup":{"Vehicle":{"Stages":[{}]},"Bays":[{}],"Faults":[{}]}},"Injected":40}`), meta, bits, byte(injectBlock))
	f.Fuzz(func(t *testing.T, head, meta, bits []byte, name byte) {
		text := sealed(byte(headBlock), head, name, described(meta, bits), byte(endBlock), []byte{})
		if rec, err := Read(bytes.NewReader(text)); err == nil {
			bytesOf(t, &rec)
		}
	})
}

// measured tells the speed in bytes of memory, and how many bytes of a file a tick takes.
func measured(b *testing.B, rec *harness.Record, file int) {
	top := headOf(rec)
	b.SetBytes(int64(rec.Ticks()) * top.tick())
	b.ReportMetric(float64(file)/float64(rec.Ticks()), "file-B/tick")
}

func BenchmarkWrite(b *testing.B) {
	rec := sample()
	rec.Late = nil
	size := len(bytesOf(b, rec))
	for b.Loop() {
		if err := Write(io.Discard, rec); err != nil {
			b.Fatal(err)
		}
	}
	measured(b, rec, size)
}

func BenchmarkRead(b *testing.B) {
	rec := sample()
	rec.Late = nil
	bs := bytesOf(b, rec)
	for b.Loop() {
		if _, err := Read(bytes.NewReader(bs)); err != nil {
			b.Fatal(err)
		}
	}
	measured(b, rec, len(bs))
}
