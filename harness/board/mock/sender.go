package mock

import (
	"slices"
	"strconv"

	"drystage/harness/board/contract"
)

// sender encodes the board's messages and appends them to out.
type sender struct {
	enc    contract.Encoder
	out    []byte
	buffer [contract.MaxTail]byte
	direct *contract.Answers // of a host that takes messages instead of bytes; else nil
	clock  func() int64      // the board's own clock, in real time; nil: the time of its decisions
}

func (v *sender) stamp(now int64) uint32 {
	if v.clock != nil {
		now = v.clock()
	}
	return uint32(now)
}

func (v *sender) output(now int64, channel int, on bool) {
	m := contract.Output{Time: v.stamp(now), Channel: uint8(channel)}
	if on {
		m.On = 1
	}
	if v.direct != nil {
		v.direct.Outputs = append(v.direct.Outputs, m)
		return
	}
	v.out = v.enc.Output(v.out, &m)
}

func (v *sender) log(now int64, text string) {
	v.sendLog(now, append(v.buffer[:0], text...))
}

func (v *sender) sendLog(now int64, text []byte) {
	m := contract.Log{Time: v.stamp(now), Text: text}
	if v.direct != nil {
		m.Text = slices.Clone(text[:min(len(text), contract.MaxTail)])
		v.direct.Logs = append(v.direct.Logs, m)
		return
	}
	v.out = v.enc.Log(v.out, &m)
}

// logf logs a number between two texts.
func (v *sender) logf(now int64, before string, n int64, after string) {
	b := append(v.buffer[:0], before...)
	b = append(strconv.AppendInt(b, n, 10), after...)
	v.sendLog(now, b)
}

func (v *sender) report(now int64, p phase, h, s, top float64) {
	m := contract.Report{Time: v.stamp(now), Phase: phaseNames[p], Height: thousandths(h), Speed: thousandths(s), Apogee: thousandths(top)}
	if v.direct != nil {
		v.direct.Reports = append(v.direct.Reports, m)
		return
	}
	v.out = v.enc.Report(v.out, &m)
}
