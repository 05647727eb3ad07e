// Package record turns a harness.Record into bytes and back. The same record gives the
// same bytes. It never opens a file and never judges.
//
// The format: a line "drystage record 3\n", then blocks. A block is its name (one byte), the length
// of its content (uint32, little endian), the content, and the CRC-32C of name, length and content.
// Block H is the JSON of everything but the ticks; blocks T hold ticks, blocks I what faults injected,
// both deflated; block E, empty, ends the record, so that a cut file is known as one. All numbers are little endian.
package record

import (
	"bytes"
	"compress/flate"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"io"

	"drystage/harness"
	"drystage/sim"
)

const (
	magic       = "drystage record 3\n"
	headBlock   = 'H'
	tickBlock   = 'T'
	endBlock    = 'E'
	perBlock    = 4096     // ticks
	largestHead = 16 << 20 // bytes
	largestTick = 64 << 20 // bytes, deflated or not
	mostTicks   = 20 << 20
	mostMemory  = 4 << 30 // bytes of ticks, once read
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// head is all of a record but its ticks.
type head struct {
	Plan       harness.Plan
	Made       harness.Maker
	Events     []sim.Event
	Outputs    []harness.Edge
	Reports    []harness.Report
	Logs       []harness.Log
	Health     []harness.Health
	Cause      string
	Ticks      int
	Late       bool
	Pace       harness.Pace           `json:",omitzero"`
	Readings   []harness.ClockReading `json:",omitempty"`
	Clocks     []harness.BoardClock   `json:",omitempty"`
	Injected   int
	Conflicts  []harness.Conflict   `json:",omitempty"`
	Unmeasured []harness.Unmeasured `json:",omitempty"`
	Said       []harness.NMEASet    `json:",omitempty"`
	Felt       []sim.Output
	Warnings   []sim.Warning `json:",omitempty"`
	Changes    []harness.HealthChange
}

// Write writes a record. It refuses what Read would refuse: a malformed record, and a plan with a number that is
// not finite, for which JSON has no word.
func Write(w io.Writer, rec *harness.Record) error {
	top := head{
		rec.Plan, rec.Made, rec.Events, rec.Outputs, rec.Reports, rec.Logs, rec.Health, rec.Cause,
		rec.Ticks(), len(rec.Late) > 0, rec.Pace, rec.Readings, rec.Clocks, len(rec.Injected), rec.Conflicts, rec.Unmeasured, rec.NMEA, rec.FlightOutputs, rec.Warnings, rec.Changes,
	}
	if err := errors.Join(top.check(), whole(rec)); err != nil {
		return fmt.Errorf("record: %w", err)
	}
	if why := rec.Flaw(); why != "" {
		return fmt.Errorf("record: malformed, so that nobody could judge it: %s", why)
	}
	h, err := json.Marshal(top)
	if err != nil {
		return fmt.Errorf("record: %w", err)
	}
	if len(h) > largestHead {
		return fmt.Errorf("record: everything but the ticks takes %d bytes, at most %d can be kept; let the board say less", len(h), largestHead)
	}
	if _, err := io.WriteString(w, magic); err != nil {
		return err
	}
	if err := block(w, headBlock, h); err != nil {
		return err
	}
	for from := 0; from < rec.Ticks(); from += perBlock {
		content, err := deflate(rec, from, min(from+perBlock, rec.Ticks()))
		if err != nil {
			return fmt.Errorf("record: %w", err)
		}
		if err := block(w, tickBlock, content); err != nil {
			return err
		}
	}
	if err := writeInjected(w, rec.Injected); err != nil {
		return fmt.Errorf("record: %w", err)
	}
	return block(w, endBlock, nil)
}

// whole says that every tick has all that belongs to it.
func whole(rec *harness.Record) error {
	n, stages, bays := rec.Ticks(), len(rec.Plan.Setup.Vehicle.Stages), len(rec.Plan.Setup.Bays)
	late := len(rec.Late) == 0 || len(rec.Late) == n
	if len(rec.Active) != n || len(rec.States) != n*stages || len(rec.Frames) != n*bays || !late {
		return fmt.Errorf("found %d ticks with %d words of active faults, %d states, %d frames and %d times of lateness, which don't fit together",
			n, len(rec.Active), len(rec.States), len(rec.Frames), len(rec.Late))
	}
	return nil
}

func block(w io.Writer, name byte, content []byte) error {
	b := append([]byte{name}, binary.LittleEndian.AppendUint32(nil, uint32(len(content)))...)
	sum := crc32.Update(crc32.Checksum(b, castagnoli), castagnoli, content)
	for _, part := range [][]byte{b, content, binary.LittleEndian.AppendUint32(nil, sum)} {
		if _, err := w.Write(part); err != nil {
			return err
		}
	}
	return nil
}

// deflate packs the ticks from one index up to another, kind by kind, since likes pack well together.
func deflate(rec *harness.Record, from, to int) ([]byte, error) {
	var out bytes.Buffer
	z, err := flate.NewWriter(&out, flate.BestSpeed)
	if err != nil {
		return nil, err
	}
	for _, part := range append(parts(rec, from, to), pack(rec, from, to)) {
		if err := binary.Write(z, binary.LittleEndian, part); err != nil {
			return nil, err
		}
	}
	err = z.Close()
	return out.Bytes(), err
}

// parts gives the slices of a stretch of ticks, in the order of the file, but for the frames, which
// come last. They share the record's memory, so that reading fills it.
func parts(rec *harness.Record, from, to int) []any {
	stages := len(rec.Plan.Setup.Vehicle.Stages)
	all := []any{rec.Times[from:to], rec.Active[from:to]}
	if len(rec.Late) > 0 {
		all = append(all, rec.Late[from:to])
	}
	return append(all, rec.States[from*stages:to*stages])
}

// ErrCut says that a record ends before its end.
var ErrCut = errors.New("the record is cut short: its last block is missing")

// Read reads a record that Write wrote. Errors tell the byte at which the trouble lies.
func Read(r io.Reader) (rec harness.Record, err error) {
	in := &reader{r: r}
	if err := in.read(&rec); err != nil {
		return harness.Record{}, fmt.Errorf("record: at byte %d: %w", in.at, err)
	}
	return rec, nil
}

type reader struct {
	r  io.Reader
	at int64 // where the block being read begins
}

func (in *reader) read(rec *harness.Record) error {
	start := make([]byte, len(magic))
	if n, err := io.ReadFull(in.r, start); err != nil || string(start) != magic {
		return in.stranger(start[:n])
	}
	in.at = int64(len(magic))
	var h head
	name, content, err := in.block()
	switch {
	case err != nil:
		return err
	case name != headBlock:
		return fmt.Errorf("found a block %q, wanted the head", name)
	}
	d := json.NewDecoder(bytes.NewReader(content))
	d.DisallowUnknownFields() // what a newer drystage demands must not be lost in silence
	if err := d.Decode(&h); err != nil {
		return fmt.Errorf("a head that is not the JSON of a record: %w", err)
	}
	if err := h.check(); err != nil {
		return err
	}
	*rec = harness.Record{
		Plan: h.Plan, Made: h.Made, Events: h.Events, Outputs: h.Outputs, Reports: h.Reports, Logs: h.Logs,
		Health: h.Health, Cause: h.Cause, Pace: h.Pace, Readings: h.Readings, Clocks: h.Clocks,
		Conflicts: h.Conflicts, Unmeasured: h.Unmeasured, NMEA: h.Said, FlightOutputs: h.Felt, Warnings: h.Warnings, Changes: h.Changes,
	}
	if err := in.ticks(rec, &h); err != nil {
		return err
	}
	if why := rec.Flaw(); why != "" {
		return fmt.Errorf("found a malformed record: %s", why)
	}
	return nil
}

// stranger says what a file is that does not begin as a record of this version does.
func (in *reader) stranger(start []byte) error {
	const before = len(magic) - 2
	if string(start) == magic[:before]+"1\n" || string(start) == magic[:before]+"2\n" {
		in.at = int64(len(magic))
		return fmt.Errorf("found %q, wanted %q: %s wrote this record, and it lacks what proves that it is whole; fly its scenario again", start, magic, in.writer())
	}
	if bytes.HasPrefix(start, []byte(magic[:before])) {
		return fmt.Errorf("found %q, wanted %q: a newer drystage wrote this record; read it with that one", start, magic)
	}
	return fmt.Errorf("found %q, wanted %q; this is no record", start, magic)
}

// writer names the drystage that wrote an older record, as far as its head still tells.
func (in *reader) writer() string {
	var h struct{ Made harness.Maker }
	if name, content, err := in.block(); err == nil && name == headBlock && json.Unmarshal(content, &h) == nil && h.Made.Version != "" {
		return fmt.Sprintf("drystage %s, an older version,", h.Made.Version)
	}
	return "an older version of drystage"
}

// check refuses a head whose numbers don't fit together, since ticks are read by them.
func (h *head) check() error {
	s := &h.Plan.Setup
	stages, bays := len(s.Vehicle.Stages), len(s.Bays)
	switch {
	case stages < 1 || stages > sim.MaxStages || bays < 1 || bays > 64:
		return fmt.Errorf("found %d stages and %d boards, wanted 1 to %d and 1 to 64", stages, bays, sim.MaxStages)
	case h.Ticks < 0 || h.Ticks > mostTicks:
		return fmt.Errorf("found %d ticks, wanted at most %d", h.Ticks, mostTicks)
	case int64(h.Ticks)*h.tick() > mostMemory:
		return fmt.Errorf("found %d ticks of %d bytes, wanted at most %d bytes; end the scenario earlier", h.Ticks, h.tick(), int64(mostMemory))
	case h.Injected < 0 || h.Injected > mostInjected:
		return fmt.Errorf("found %d injections, wanted at most %d", h.Injected, mostInjected)
	case len(s.Faults) > sim.MaxFaults:
		return fmt.Errorf("found %d faults, wanted at most %d", len(s.Faults), sim.MaxFaults)
	}
	for _, b := range s.Bays {
		if b.Stage < 0 || b.Stage >= stages {
			return fmt.Errorf("found a board on stage %d of %d", b.Stage, stages)
		}
	}
	return nil
}

// tick is the number of bytes that one tick takes in a file that is not deflated, which is close to what
// it takes in memory.
func (h *head) tick() int64 {
	s := &h.Plan.Setup
	return int64(3*8 + len(s.Vehicle.Stages)*binary.Size(sim.State{}) + len(s.Bays)*binary.Size(packed{}))
}

// ticks reads the tick blocks up to the end. Memory grows with what has arrived, not with what the
// head promises.
func (in *reader) ticks(rec *harness.Record, h *head) error {
	stages, bays := len(rec.Plan.Setup.Vehicle.Stages), len(rec.Plan.Setup.Bays)
	for {
		name, content, err := in.block()
		if err != nil {
			return err
		}
		have := rec.Ticks()
		switch {
		case name == endBlock && have == h.Ticks && len(rec.Injected) == h.Injected:
			return in.end()
		case name == injectBlock && have == h.Ticks && len(rec.Injected) < h.Injected:
			if err := readInjected(content, rec, h.Injected); err != nil {
				return err
			}
			continue
		case name != tickBlock || have == h.Ticks:
			return fmt.Errorf("found a block %q after %d of %d ticks", name, have, h.Ticks)
		}
		to := min(have+perBlock, h.Ticks)
		rec.Times = append(rec.Times, make([]sim.Time, to-have)...)
		rec.Active = append(rec.Active, make([]uint64, to-have)...)
		if h.Late {
			rec.Late = append(rec.Late, make([]sim.Time, to-have)...)
		}
		rec.States = append(rec.States, make([]sim.State, (to-have)*stages)...)
		rec.Frames = append(rec.Frames, make([]sim.Frame, (to-have)*bays)...)
		if err := inflate(content, rec, have, to); err != nil {
			return err
		}
	}
}

func inflate(content []byte, rec *harness.Record, from, to int) error {
	z := io.LimitReader(flate.NewReader(bytes.NewReader(content)), largestTick)
	frames := make([]packed, (to-from)*len(rec.Plan.Setup.Bays))
	for _, part := range append(parts(rec, from, to), frames) {
		if err := binary.Read(z, binary.LittleEndian, part); err != nil {
			return fmt.Errorf("a block of ticks that can't be unpacked: %w", err)
		}
	}
	if n, err := z.Read(make([]byte, 1)); n > 0 || err != io.EOF {
		return errors.New("a block of ticks that holds more than its ticks")
	}
	unpack(rec, from, frames)
	return nil
}

// end wants nothing after the last block.
func (in *reader) end() error {
	switch n, err := io.ReadFull(in.r, make([]byte, 1)); {
	case n > 0:
		return errors.New("found more bytes after the end of the record")
	case err != io.EOF:
		return err
	}
	return nil
}

// block reads one block and checks its sum.
func (in *reader) block() (name byte, content []byte, err error) {
	var b [5]byte
	if _, err := io.ReadFull(in.r, b[:]); err != nil {
		return 0, nil, ErrCut
	}
	n := int64(binary.LittleEndian.Uint32(b[1:]))
	if n > largestTick || b[0] == headBlock && n > largestHead {
		return 0, nil, fmt.Errorf("found a block %q of %d bytes, which is too large", b[0], n)
	}
	// Copy grows with what arrives, so that a lying length costs nothing.
	var grown bytes.Buffer
	if got, err := io.Copy(&grown, io.LimitReader(in.r, n+4)); err != nil || got < n+4 {
		return 0, nil, ErrCut
	}
	content = grown.Bytes()[:n]
	sum := crc32.Update(crc32.Checksum(b[:], castagnoli), castagnoli, content)
	if binary.LittleEndian.Uint32(grown.Bytes()[n:]) != sum {
		return 0, nil, fmt.Errorf("found a block %q whose checksum is wrong; the file is damaged", b[0])
	}
	in.at += int64(len(b)) + n + 4
	return b[0], content, nil
}
