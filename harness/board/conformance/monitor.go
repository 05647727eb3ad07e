package conformance

import (
	"fmt"
	"slices"

	"drystage/harness/board/contract"
)

// monitor checks every frame of the session against the invariants of the contract. Each list holds violations.
type monitor struct {
	on            uint16 // outputs that are on, by OUTPUT
	onSinceDone   uint16 // outputs switched on since the last DONE
	onSinceBegin  uint16 // outputs switched on since the run began
	lost          int    // missing frames at the last DONE
	edges         int    // OUTPUTs seen in all
	switchedOn    int    // OUTPUTs that said on
	dones         int
	logs          []string // the last few
	logged        int      // LOGs received
	badChannels   []string // outputs that the board does not have
	badTimes      []string // times after this TICK or before the last one
	disagreements []string // OUTPUT and DONE differ
	uncertain     int      // times that they differ while a frame is missing
	onUnarmed     []string // outputs on while DONE says unarmed
	badContinuity []string // CONTINUITY of outputs that the board does not have
	continuities  int      // CONTINUITYs received
	reports       reportStats
	realTime      bool // a real-time run: OUTPUT has the board's own time, and TEST may switch an output of an unarmed board
	recent        []contract.Output
	badPins       []string // the rig's pins differ from what the board says
	pinsOn        uint16   // outputs on when the pins were last checked
	onSincePins   uint16   // outputs reported on since then
}

// tickSpan is the time from the last TICK to this one, in us.
type tickSpan struct{ last, now uint32 }

// mostKept is how many violations and logs are kept; more of the same add nothing.
const mostKept = 3

// mostEdges is how many edges after a TEST are kept. A pulse has two.
const mostEdges = 4

func note(list *[]string, format string, a ...any) {
	if len(*list) < mostKept {
		*list = append(*list, fmt.Sprintf(format, a...))
	}
}

// reset begins a run: all outputs are off.
func (w *monitor) reset() { w.on, w.onSinceDone, w.onSinceBegin = 0, 0, 0 }

func (w *monitor) frame(f contract.Frame, b *contract.Welcome, t tickSpan) {
	var o contract.Output
	var l contract.Log
	var r contract.Report
	var c contract.Continuity
	switch {
	case f.Code == contract.CodeReport && r.Decode(f.Payload) == nil:
		w.reports.take(&r)
	case f.Code == contract.CodeContinuity && c.Decode(f.Payload) == nil:
		if w.continuities++; c.Channel == 0 || c.Channel > b.Channels {
			note(&w.badContinuity, "CONTINUITY of channel %d at %d us; the board has %d", c.Channel, c.Time, b.Channels)
		}
	case f.Code == contract.CodeLog && l.Decode(f.Payload) == nil:
		w.logged++
		w.logs = append(slices.Delete(w.logs, 0, max(0, len(w.logs)-mostKept+1)), contract.Text(l.Text))
	case f.Code == contract.CodeOutput && o.Decode(f.Payload) == nil:
		w.edge(&o, b, t)
	}
}

func (w *monitor) edge(o *contract.Output, b *contract.Welcome, t tickSpan) {
	w.edges++
	w.recent = append(w.recent[max(0, len(w.recent)-mostEdges):], *o)
	if o.Channel == 0 || o.Channel > b.Channels || o.Channel > contract.MaxChannels {
		note(&w.badChannels, "OUTPUT of channel %d at %d us; the board has %d", o.Channel, o.Time, b.Channels)
		return
	}
	if !w.realTime && o.Time-t.last > t.now-t.last { // modulo 2^32
		note(&w.badTimes, "OUTPUT of channel %d has time %d us, the last TICK %d us and this one %d us", o.Channel, o.Time, t.last, t.now)
	}
	bit := uint16(1) << (o.Channel - 1)
	if o.On == 0 {
		w.on &^= bit
		return
	}
	w.switchedOn++
	w.on |= bit
	w.onSinceDone |= bit
	w.onSinceBegin |= bit
}

func (w *monitor) done(d *contract.Done, b *contract.Welcome, lost int) {
	w.dones++
	if b.Channels < contract.MaxChannels && d.Outputs>>b.Channels != 0 {
		note(&w.badChannels, "DONE of %d us says outputs %016b are on; the board has %d", d.Time, d.Outputs, b.Channels)
	}
	switch {
	case d.Outputs == w.on:
	case lost != w.lost:
		w.uncertain++
	default:
		note(&w.disagreements, "at %d us DONE says outputs %016b, the OUTPUTs so far say %016b", d.Time, d.Outputs, w.on)
	}
	if d.Armed == 0 && !w.realTime && (d.Outputs|w.onSinceDone) != 0 {
		note(&w.onUnarmed, "at %d us outputs %016b are on, or were, while DONE says not armed", d.Time, d.Outputs|w.onSinceDone)
	}
	w.on, w.onSinceDone, w.lost = d.Outputs, 0, lost
}
