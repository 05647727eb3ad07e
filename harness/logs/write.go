package logs

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strconv"

	"drystage/sim"
	"drystage/sim/quantity"
)

// decimals that lose nothing of a count, in the unit written.
var decimals = map[quantity.Dimension]int{
	quantity.Acceleration: 3, quantity.AngularRate: 6, quantity.Pressure: 3, quantity.Temperature: 2,
	quantity.Length: 3, quantity.Angle: 7, quantity.Speed: 3, quantity.Voltage: 3, quantity.Number: 0,
}

// Write writes a log as a table with commas, a header with units in brackets and a row per instant; a
// cell is empty where a part has no sample. Propose understands it without doubt, and reading it
// again gives the same log.
func Write(w io.Writer, l *Log) error {
	b := bufio.NewWriter(w)
	t := &writer{b: b, log: l, state: map[int]bool{}}
	t.header()
	c := cursor{log: l}
	for at := c.due(); at != sim.Never; at = c.due() {
		t.before = c.next
		var f sim.Frame
		edges := c.take(at, &f)
		t.row(at, &c, &f, edges)
	}
	return b.Flush()
}

type writer struct {
	b      *bufio.Writer
	log    *Log
	chans  []Channel
	outs   []Output // one per channel, by its first edge
	state  map[int]bool
	before [sim.PartBattery + 1]int
}

func (t *writer) header() {
	t.b.WriteString("time [s]")
	for _, c := range channels {
		if s := &t.log.Streams[c.Part]; s.Len() == 0 || !s.Has(c.Index) {
			continue
		}
		t.chans = append(t.chans, c)
		t.b.WriteString("," + c.Word)
		if u := writtenUnit(c.Dim); u != "" {
			t.b.WriteString(" [" + u + "]")
		}
	}
	for _, o := range t.log.Outputs {
		if _, ok := t.state[o.Channel]; !ok {
			t.state[o.Channel] = false
			t.outs = append(t.outs, o)
			fmt.Fprintf(t.b, ",output %d", o.Channel)
			if o.Name != "" {
				t.b.WriteString(" " + o.Name)
			}
		}
	}
	if len(t.log.Commands) > 0 {
		t.b.WriteString(",command")
	}
	t.b.WriteByte('\n')
}

func writtenUnit(d quantity.Dimension) string {
	if d == quantity.Angle {
		return "deg"
	}
	return quantity.Units(d)[0]
}

func (t *writer) row(at sim.Time, c *cursor, f *sim.Frame, edges []Output) {
	t.b.Write(strconv.AppendFloat(t.b.AvailableBuffer(), at.Seconds(), 'f', -1, 64))
	for _, ch := range t.chans {
		t.b.WriteByte(',')
		if i := t.before[ch.Part]; c.next[ch.Part] > i {
			if n := t.log.Streams[ch.Part].Data[ch.Index][i]; n != Missing {
				t.b.Write(appendCount(t.b.AvailableBuffer(), n, decimals[ch.Dim]))
			}
		}
	}
	for _, o := range edges {
		t.state[o.Channel] = o.On
	}
	for _, o := range t.outs {
		if t.state[o.Channel] {
			t.b.WriteString(",1")
		} else {
			t.b.WriteString(",0")
		}
	}
	if len(t.log.Commands) > 0 {
		t.b.WriteByte(',')
		for bit, w := range []string{"arm", "disarm", "stage"} {
			if f.Commands>>bit&1 != 0 {
				t.b.WriteString(w)
				break
			}
		}
	}
	t.b.WriteByte('\n')
}

// appendCount writes a whole number of 10^-places.
func appendCount(b []byte, n int32, places int) []byte {
	return strconv.AppendFloat(b, float64(n)/math.Pow10(places), 'f', places, 64)
}
