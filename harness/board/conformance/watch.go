package conformance

import (
	"fmt"
	"slices"

	"drystage/harness/board/contract"
)

// watch holds every frame of the whole session against what is always so. Each list has what broke it.
type watch struct {
	on      uint16 // as OUTPUT has told
	lit     uint16 // switched on since the last DONE
	since   uint16 // switched on since the run began
	lost    int    // missing frames at the last DONE
	edges   int    // OUTPUTs seen in all
	ons     int    // of those, on
	dones   int
	logs    []string // the last few
	channel []string // an output that the board has not
	time    []string // a time to come, or one before the last TICK
	agree   []string // OUTPUT and DONE tell different stories
	blurred int      // they differ, and a frame is missing
	unarmed []string // on while DONE says not armed
	ohms    []string // CONTINUITY of an output that the board has not
	ohm     int      // CONTINUITYs seen
	told    told
	free    bool // in real time OUTPUT carries a clock of the board's own, and TEST lights an unarmed board
	pulse   []contract.Output
	pins    []string // the rig's pins show something else
	pinned  uint16   // on when the pins were last looked at
	heard   uint16   // told on since then
}

// span is the time from the last TICK to the present one, in us.
type span struct{ last, now uint32 }

// keep is how many breaches and logs are kept; more of the same tell nothing.
const keep = 3

// longest is how many edges are kept of what follows a TEST: more than a pulse has.
const longest = 4

func note(list *[]string, format string, a ...any) {
	if len(*list) < keep {
		*list = append(*list, fmt.Sprintf(format, a...))
	}
}

// dark is for a run that begins: outputs are off.
func (w *watch) dark() { w.on, w.lit, w.since = 0, 0, 0 }

func (w *watch) frame(f contract.Frame, b *contract.Welcome, t span) {
	var o contract.Output
	var l contract.Log
	var r contract.Report
	var c contract.Continuity
	switch {
	case f.Code == contract.CodeReport && r.Decode(f.Payload) == nil:
		w.told.take(&r)
	case f.Code == contract.CodeContinuity && c.Decode(f.Payload) == nil:
		if w.ohm++; c.Channel == 0 || c.Channel > b.Channels {
			note(&w.ohms, "CONTINUITY of channel %d at %d us; the board has %d", c.Channel, c.Time, b.Channels)
		}
	case f.Code == contract.CodeLog && l.Decode(f.Payload) == nil:
		w.logs = append(slices.Delete(w.logs, 0, max(0, len(w.logs)-keep+1)), contract.Text(l.Text))
	case f.Code == contract.CodeOutput && o.Decode(f.Payload) == nil:
		w.edge(&o, b, t)
	}
}

func (w *watch) edge(o *contract.Output, b *contract.Welcome, t span) {
	w.edges++
	w.pulse = append(w.pulse[max(0, len(w.pulse)-longest):], *o)
	if o.Channel == 0 || o.Channel > b.Channels || o.Channel > contract.MaxChannels {
		note(&w.channel, "OUTPUT of channel %d at %d us; the board has %d", o.Channel, o.Time, b.Channels)
		return
	}
	if !w.free && (o.Time > t.now || o.Time < t.last) {
		note(&w.time, "OUTPUT of channel %d has time %d us, the last TICK %d us and this one %d us", o.Channel, o.Time, t.last, t.now)
	}
	bit := uint16(1) << (o.Channel - 1)
	if o.On == 0 {
		w.on &^= bit
		return
	}
	w.ons++
	w.on |= bit
	w.lit |= bit
	w.since |= bit
}

func (w *watch) done(d *contract.Done, b *contract.Welcome, lost int) {
	w.dones++
	if b.Channels < contract.MaxChannels && d.Outputs>>b.Channels != 0 {
		note(&w.channel, "DONE of %d us says outputs %016b are on; the board has %d", d.Time, d.Outputs, b.Channels)
	}
	switch {
	case d.Outputs == w.on:
	case lost != w.lost:
		w.blurred++
	default:
		note(&w.agree, "at %d us DONE says outputs %016b, the OUTPUTs so far say %016b", d.Time, d.Outputs, w.on)
	}
	if d.Armed == 0 && !w.free && (d.Outputs|w.lit) != 0 {
		note(&w.unarmed, "at %d us outputs %016b are on, or were, while DONE says not armed", d.Time, d.Outputs|w.lit)
	}
	w.on, w.lit, w.lost = d.Outputs, 0, lost
}
