package conformance

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"drystage/harness"
	"drystage/harness/board/boardtest"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
)

// altered is a good fake board whose frames are changed in both directions: raw bytes in, raw bytes out, without
// stuffing.
type altered struct {
	inner   link.Device
	in, out func(raw []byte) []byte
}

func (a altered) Feed(in, out []byte) []byte {
	return append(out, each(a.inner.Feed(each(in, a.in), nil), a.out)...)
}

func each(lines []byte, change func([]byte) []byte) (out []byte) {
	for line := range bytes.SplitSeq(lines, []byte{0}) {
		raw, ok := unstuff(line)
		switch {
		case len(line) == 0:
		case !ok || change == nil:
			out = append(append(out, line...), 0)
		default:
			if raw = change(raw); raw != nil {
				out = append(out, stuff(raw)...)
			}
		}
	}
	return out
}

// sealed gives raw bytes another checksum.
func sealed(by func(body []byte) [4]byte) func([]byte) []byte {
	return func(raw []byte) []byte {
		if len(raw) < 6 {
			return raw
		}
		check := by(raw[:len(raw)-4])
		return append(raw[:len(raw)-4:len(raw)-4], check[:]...)
	}
}

// from turns a check that a wrong board would take into the one that the guest takes, and all others
// into one that it refuses.
func from(wrong func(body []byte) [4]byte) func([]byte) []byte {
	return func(raw []byte) []byte {
		if len(raw) < 6 {
			return raw
		}
		body, check := raw[:len(raw)-4], wrong(raw[:len(raw)-4])
		if bytes.Equal(check[:], raw[len(raw)-4:]) {
			return binary.LittleEndian.AppendUint32(body[:len(body):len(body)], castagnoli(body))
		}
		return append(body[:len(body):len(body)], 1, 2, 3, 4)
	}
}

func ieee(body []byte) [4]byte    { return little(crc32.ChecksumIEEE(body)) }
func turned(body []byte) [4]byte  { return big(castagnoli(body)) }
func stamped([]byte) [4]byte      { return [4]byte{} }
func open(body []byte) [4]byte    { return little(^castagnoli(body)) }
func strange(body []byte) [4]byte { return little(castagnoli(body) ^ 0x1234) }

// TestProbe: a board that is silent because of a usual checksum mistake is told which one, in both directions.
func TestProbe(t *testing.T) {
	for _, c := range []struct {
		reason  string
		in, out func([]byte) []byte
		why     string
	}{
		{"both ways IEEE", from(ieee), sealed(ieee), "to a HELLO whose check is the CRC-32 of IEEE 802.3"},
		{"both ways turned", from(turned), sealed(turned), "the byte order is wrong"},
		{"both ways without the last step", from(open), sealed(open), "lacks the final exclusive-or"},
		{"no check at all", from(stamped), sealed(stamped), "always 0"},
		{"hears right, speaks IEEE", nil, sealed(ieee), "one that is a WELCOME whose check is the CRC-32 of IEEE 802.3"},
		{"something else", from(strange), sealed(strange), "is the board powered"},
	} {
		r := Run(t.Context(), link.Memory(altered{boardtest.NewFake(boardtest.None), c.in, c.out}), Options{})
		assert.Equal(t, comes, r.first(Fail).Name, c.reason)
		assert.Subset(t, []string{comes, whole}, named(&r, Fail), c.reason)
		assert.Contains(t, r.Points[0].Why, c.why, c.reason)
	}
}

// TestProbe_Late: an answer that comes while other checksums are tried is told as late, not as one to a wrong checksum.
func TestProbe_Late(t *testing.T) {
	var first []byte
	late := func(raw []byte) []byte {
		switch {
		case contract.Code(raw[0]) != contract.CodeWelcome:
			return raw
		case first == nil || bytes.Equal(raw[6:10], first[6:10]): // to the HELLOs that come first
			first = bytes.Clone(raw)
			return nil
		}
		return first
	}
	r := Run(t.Context(), link.Memory(altered{boardtest.NewFake(boardtest.None), nil, late}), Options{})
	assert.Contains(t, r.Points[0].Why, "but one that came later")
}

// TestNumbering: mistakes of sequence numbers, by name, and no other point fails for them.
func TestNumbering(t *testing.T) {
	renumber := func(f func(n uint8) uint8) func([]byte) []byte {
		n := uint8(0)
		return func(raw []byte) []byte {
			if len(raw) < 6 {
				return raw
			}
			raw[1] = f(n)
			n++
			return sealed(func(b []byte) [4]byte { return little(castagnoli(b)) })(raw)
		}
	}
	for _, c := range []struct {
		reason string
		number func(uint8) uint8
		why    string
	}{
		{"stuck at 0", func(uint8) uint8 { return 0 }, "is stuck"},
		{"stuck at 200", func(uint8) uint8 { return 200 }, "is stuck"},
		{"by two", func(n uint8) uint8 { return 2 * n }, "rises by 2"},
		{"down", func(n uint8) uint8 { return -n }, "rises by 255"},
		{"now and then", func(n uint8) uint8 { return n / 2 }, "whatever its type"},
	} {
		r := Run(t.Context(), link.Memory(altered{boardtest.NewFake(boardtest.None), nil, renumber(c.number)}), Options{Settings: guestSets})
		assert.Equal(t, []string{"the board numbers its frames"}, named(&r, Fail), c.reason)
		assert.Equal(t, []string{whole}, named(&r, Unsure), c.reason)
		assert.Contains(t, r.first(Fail).Why, c.why, c.reason)
	}
}

// TestUnits: reports in other units are named; the factors are of NIST SP 811, appendix B.8.
func TestUnits(t *testing.T) {
	for _, c := range []struct {
		ratio float64
		words string
	}{
		{0.001, "in metres"}, {0.0011, "in metres"}, {0.01, "in decimetres"}, {0.1, "in centimetres"}, {0.09, "in centimetres"},
		{0.00328, "in feet"}, {0.0394, "in inches"}, {3.28, "in thousandths of a foot"}, {10, "in tenths of a millimetre"}, {1000, "in micrometres"},
		{0.3, ""}, {5.8, ""}, {1, ""}, {0, ""}, {-1, ""},
	} {
		if got := mistaken(c.ratio); c.words == "" {
			assert.Empty(t, got, "%g", c.ratio)
		} else {
			assert.Contains(t, got, c.words, "%g", c.ratio)
		}
	}
	for _, c := range []struct {
		reason string
		times  func(int32) int32
		want   Outcome
	}{
		{"millimetres", func(h int32) int32 { return h }, Pass},
		{"a poor estimate", func(h int32) int32 { return h / 3 * 2 }, Pass},
		{"feet", func(h int32) int32 { return int32(float64(h) / 304.8) }, Fail},
		{"nonsense", func(h int32) int32 { return h / 4 }, Unsure},
		{"nothing", func(int32) int32 { return 0 }, Unsure},
	} {
		change := func(raw []byte) []byte {
			var m contract.Report
			if raw[0] != uint8(contract.CodeReport) || m.Decode(raw[2:len(raw)-4]) != nil {
				return raw
			}
			binary.LittleEndian.PutUint32(raw[2+20:], uint32(c.times(m.Height)))
			return sealed(func(b []byte) [4]byte { return little(castagnoli(b)) })(raw)
		}
		r := Run(t.Context(), link.Memory(altered{boardtest.NewFake(boardtest.None), nil, change}), Options{Settings: guestSets})
		assert.Equal(t, c.want, outcomeOf(&r, "REPORT is in mm and mm/s, above the pad"), "%s: %s", c.reason, text(&r))
	}
}

// TestNoReports: a board may report nothing, once that is declared.
func TestNoReports(t *testing.T) {
	mute := func(raw []byte) []byte {
		if raw[0] == uint8(contract.CodeReport) {
			return nil
		}
		return raw
	}
	number := uint8(0)
	counted := func(raw []byte) []byte { // the frames that are left are numbered anew
		if raw = mute(raw); raw != nil {
			raw[1] = number
			number++
			raw = sealed(func(b []byte) [4]byte { return little(castagnoli(b)) })(raw)
		}
		return raw
	}
	for _, without := range []uint16{0, Reports} {
		r := Run(t.Context(), link.Memory(altered{boardtest.NewFake(boardtest.None), nil, counted}), Options{Settings: guestSets, Without: without})
		assert.Equal(t, NotClaimed, outcomeOf(&r, "REPORT is in mm and mm/s, above the pad"))
		assert.Equal(t, map[bool]harness.Answer{false: harness.Unsure, true: harness.Pass}[without == Reports], r.Answer(), "%s", text(&r))
	}
}

// tardy is a link whose answer to the n-th write comes after the time-out.
type tardy struct {
	link.Link
	n     int
	until time.Time
}

func (l *tardy) Write(b []byte) (int, error) {
	if l.n--; l.n == 0 {
		l.until = time.Now().Add(60 * time.Millisecond)
	}
	return l.Link.Write(b)
}

func (l *tardy) Read(b []byte) (int, error) {
	if wait := time.Until(l.until); wait > 0 {
		time.Sleep(min(wait, time.Millisecond)) // a line that takes its time: no clock to fake here
		return 0, os.ErrDeadlineExceeded
	}
	return l.Link.Read(b)
}

// TestLate: an answer after the time-out is late, not absent, and only that point fails.
func TestLate(t *testing.T) {
	r := Run(t.Context(), &tardy{Link: guestLink(boardtest.None), n: 500}, Options{Settings: guestSets, Timeout: 40 * time.Millisecond, AnswerLimit: 5 * time.Second, Without: Silence})
	assert.Equal(t, []string{"every TICK is answered in time"}, named(&r, Fail), "%s", text(&r))
	assert.Contains(t, r.first(Fail).Came, "after TICK of")
}

// sluggish is a link on which every n-th answer takes 150 ms.
type sluggish struct {
	tardy
	every, writes int
}

func (l *sluggish) Write(b []byte) (int, error) {
	if l.writes++; l.writes%l.every == 0 {
		l.until = time.Now().Add(150 * time.Millisecond)
	}
	return l.Link.Write(b)
}

// TestAnswerTime: answers that come in time for the host, but not for the next sample.
func TestAnswerTime(t *testing.T) {
	for _, c := range []struct {
		reason string
		limit  time.Duration
		busy   time.Duration // delay of this computer
		fails  bool
	}{
		{"far too late", 50 * time.Millisecond, 0, true},
		{"as late as the user allows", 5 * time.Second, 0, false},
		{"this computer may have been as late", 50 * time.Millisecond, 2 * time.Second, false},
	} {
		r := Run(t.Context(), &sluggish{tardy: tardy{Link: guestLink(boardtest.None)}, every: 3000}, Options{Settings: guestSets, Without: Silence, AnswerLimit: c.limit, Timeout: 5 * time.Second,
			HostLatency: func(time.Time) time.Duration { return c.busy }})
		const point = "every TICK is answered within a period of the fastest sensor"
		assert.Equal(t, c.fails, outcomeOf(&r, point) == Fail, "%s: %s", c.reason, text(&r))
		if c.fails {
			assert.Contains(t, r.first(Fail).Why, "let nothing block")
		}
	}
}

func outcomeOf(r *Report, name string) Outcome {
	for _, p := range r.Points {
		if p.Name == name {
			return p.Outcome
		}
	}
	return Unsure
}
