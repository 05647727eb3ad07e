package contract

import (
	"encoding/hex"
	"hash/crc32"
	"reflect"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// all is one of each message's struct.
func all() map[Code]any {
	return map[Code]any{
		CodeHello: &Hello{}, CodeSetting: &Setting{}, CodeIMU: &IMU{}, CodeBaro: &Baro{}, CodeGNSS: &GNSS{},
		CodeBattery: &Battery{}, CodeCommand: &Command{}, CodeTick: &Tick{}, CodeSync: &Sync{}, CodeRestart: &Restart{},
		CodeBye: &Bye{}, CodeWelcome: &Welcome{}, CodeAccept: &Accept{}, CodeOutput: &Output{}, CodeReport: &Report{},
		CodeContinuity: &Continuity{}, CodeLog: &Log{}, CodeDone: &Done{}, CodeSynced: &Synced{},
		CodeTest: &Test{}, CodeTested: &Tested{}, CodeCircuits: &Circuits{}, CodeMag: &Mag{},
	}
}

func encode(e *Encoder, m Message, msg any) []byte {
	out := reflect.ValueOf(e).MethodByName(goName(m.Name)).Call([]reflect.Value{reflect.ValueOf([]byte(nil)), reflect.ValueOf(msg)})
	return out[0].Bytes()
}

func decode(msg any, payload []byte) error {
	return msg.(interface{ Decode([]byte) error }).Decode(payload)
}

// slowEncode goes by the table and reflection: the second path to the bytes of a frame.
func slowEncode(m Message, seq uint8, msg any) []byte {
	raw := []byte{byte(m.Code), seq}
	v := reflect.ValueOf(msg).Elem()
	for i, f := range m.Fields {
		x := v.Field(i)
		switch f.Type {
		case Tail:
			raw = append(raw, x.Bytes()...)
		case Text16, Text24:
			for j := range f.Type.Size() {
				raw = append(raw, byte(x.Index(j).Uint()))
			}
		default:
			var n uint64
			if x.CanInt() {
				n = uint64(x.Int())
			} else {
				n = x.Uint()
			}
			for j := range f.Type.Size() {
				raw = append(raw, byte(n>>(8*j)))
			}
		}
	}
	raw = le.AppendUint32(raw, crc32.Checksum(raw, castagnoli))
	return append(slowStuff(raw), 0)
}

func drawMessage(t *rapid.T, m Message) any {
	msg := all()[m.Code]
	v := reflect.ValueOf(msg).Elem()
	for i, f := range m.Fields {
		x := v.Field(i)
		switch {
		case f.Type == Tail:
			x.SetBytes(rapid.SliceOfN(rapid.Byte(), 0, MaxTail).Draw(t, f.Name))
		case x.Kind() == reflect.Array:
			for j := range x.Len() {
				x.Index(j).SetUint(uint64(rapid.Byte().Draw(t, f.Name)))
			}
		case x.CanInt():
			x.SetInt(rapid.Int64Range(-1<<(8*f.Type.Size()-1), 1<<(8*f.Type.Size()-1)-1).Draw(t, f.Name))
		default:
			x.SetUint(rapid.Uint64Range(0, 1<<(8*f.Type.Size())-1).Draw(t, f.Name))
		}
	}
	return msg
}

func TestEveryMessageThereAndBack(t *testing.T) {
	for _, m := range table {
		rapid.Check(t, func(t *rapid.T) {
			msg := drawMessage(t, m)
			seq := rapid.Byte().Draw(t, "seq")
			bytes := encode(&Encoder{seq: seq}, m, msg)
			require.Equal(t, slowEncode(m, seq, msg), bytes, "both paths agree on %s", m.Name)
			require.LessOrEqual(t, len(bytes), m.LineBytes())

			d := NewDecoder(m.From)
			f, rest, ok := d.Next(bytes)
			require.True(t, ok, m.Name)
			require.Empty(t, rest)
			require.Equal(t, m.Code, f.Code)
			require.Equal(t, seq, f.Seq)
			back := all()[m.Code]
			require.NoError(t, decode(back, f.Payload))
			require.Equal(t, msg, back)
			require.Equal(t, Counts{}, d.Counts)
		})
	}
}

func TestTable(t *testing.T) {
	require.Len(t, all(), len(table), "every message has a struct")
	last := Code(0)
	for _, m := range Table() {
		assert.Greater(t, m.Code, last, "%s: codes rise", m.Name)
		last = m.Code
		assert.Equal(t, m.Code >= 0x80, m.From == FromBoard, "%s: bit 7 says who sends", m.Name)
		assert.Equal(t, m.Name, m.Code.String())
		assert.NotEmpty(t, m.Meaning)
		_, most := m.Sizes()
		assert.LessOrEqual(t, most+overhead-1, maxFrame, "%s fits the decoder", m.Name)
		for i, f := range m.Fields {
			assert.NotEmpty(t, f.Meaning, "%s.%s", m.Name, f.Name)
			assert.True(t, f.Type != Tail || i == len(m.Fields)-1, "%s: a tail stands last", m.Name)
		}
		msg := all()[m.Code]
		assert.ErrorIs(t, decode(msg, make([]byte, most+1)), ErrLength, "%s: too long", m.Name)
		if least, _ := m.Sizes(); least > 0 {
			assert.ErrorIs(t, decode(msg, make([]byte, least-1)), ErrLength, "%s: too short", m.Name)
		}
	}
	assert.Equal(t, "0x77", Code(0x77).String())
}

func TestLongTailIsCut(t *testing.T) {
	var e Encoder
	f, _, ok := NewDecoder(FromBoard).Next(e.Log(nil, &Log{Text: make([]byte, 200)}))
	require.True(t, ok)
	assert.Len(t, f.Payload, 4+MaxTail)
}

// Bytes worked out by hand from the contract's text; the CRC by Go's hash/crc32.
func TestOneFrameByHand(t *testing.T) {
	var e Encoder
	got := e.Tick(nil, &Tick{Time: 0x00010200})
	raw := []byte{0x20, 0x00, 0x00, 0x02, 0x01, 0x00}
	crc := le.AppendUint32(nil, crc32.Checksum(raw, crc32.MakeTable(crc32.Castagnoli)))
	require.NotContains(t, crc, byte(0))
	want := append([]byte{2, 0x20, 1, 3, 0x02, 0x01, 5}, crc...)
	assert.Equal(t, hex.EncodeToString(append(want, 0)), hex.EncodeToString(got))
}

func BenchmarkEncode(b *testing.B) {
	var e Encoder
	m := IMU{Time: 123456789, Has: 3, AccelX: 9806, AccelY: -12, AccelZ: 40, GyroX: 1000, GyroY: -1, GyroZ: 70000}
	var buf []byte
	b.ReportAllocs()
	for b.Loop() {
		buf = e.IMU(buf[:0], &m)
	}
	b.SetBytes(int64(len(buf)))
}

func BenchmarkDecode(b *testing.B) {
	var e Encoder
	m := IMU{Time: 123456789, Has: 3, AccelX: 9806, AccelY: -12, AccelZ: 40, GyroX: 1000, GyroY: -1, GyroZ: 70000}
	buf := e.IMU(nil, &m)
	d := NewDecoder(FromHost)
	b.ReportAllocs()
	b.SetBytes(int64(len(buf)))
	for b.Loop() {
		f, _, ok := d.Next(buf)
		if !ok || m.Decode(f.Payload) != nil {
			b.Fatal("bad frame")
		}
	}
}
