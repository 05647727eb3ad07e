package record

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"

	"drystage/harness"
)

// Reader reads a record block by block. What it has given is whole, also of a record that turns out to be cut short or
// damaged further on; whether the record can be judged only Read says.
type Reader struct {
	blocks
	head                    head
	ticks                   *ticks
	read, reports, injected int
}

// Open reads the head of a record: all but ticks, reports and injections.
func Open(r io.Reader) (*Reader, harness.Record, error) {
	in := &Reader{blocks: blocks{r: r}}
	if err := in.open(); err != nil {
		return nil, harness.Record{}, in.wrong(err)
	}
	in.ticks = newTicks(&in.head.Plan.Setup, new([2]grid))
	return in, in.head.record(), nil
}

// wrong tells where the trouble lies.
func (in *Reader) wrong(err error) error { return fmt.Errorf("record: at byte %d: %w", in.at, err) }

func (in *Reader) open() error {
	start := make([]byte, len(magic))
	if n, err := io.ReadFull(in.r, start); err != nil || string(start) != magic {
		return in.stranger(start[:n])
	}
	in.at = int64(len(magic))
	name, content, err := in.block()
	switch {
	case err != nil:
		return err
	case name != headBlock:
		return fmt.Errorf("found a block %q, wanted the head", name)
	}
	if content, err = in.unpacked(content, largestHead); err != nil {
		return fmt.Errorf("a head that can't be unpacked: %w", err)
	}
	d := json.NewDecoder(bytes.NewReader(content))
	d.DisallowUnknownFields() // what a newer drystage demands must not be lost in silence
	if err := d.Decode(&in.head); err != nil {
		return fmt.Errorf("a head that is not the JSON of a record: %w", err)
	}
	return in.head.check()
}

// Next appends what the next block holds to a record whose plan and head are those that Open gave, and whose other lists
// may have been emptied meanwhile. It gives io.EOF at the end, and ErrCut where a record ends before that.
func (in *Reader) Next(rec *harness.Record) error {
	done, err := in.next(rec)
	switch {
	case err != nil:
		return in.wrong(err)
	case done:
		return io.EOF
	}
	return nil
}

func (in *Reader) next(rec *harness.Record) (done bool, err error) {
	name, content, err := in.block()
	if err != nil {
		return false, err
	}
	h := &in.head
	ticks, reports, injected := in.read == h.Ticks, in.reports == h.Reports, in.injected == h.Injected
	switch {
	case name == tickBlock && !ticks:
		n := min(perBlock, h.Ticks-in.read)
		in.read += n
		return false, in.moreTicks(rec, content, n)
	case name == reportBlock && ticks && !reports:
		n := min(perBlock, h.Reports-in.reports)
		in.reports += n
		return false, in.moreReports(rec, content, n)
	case name == injectBlock && ticks && reports && !injected:
		n := min(perBlock, h.Injected-in.injected)
		in.injected += n
		return false, in.moreInjected(rec, content, n)
	case name == endBlock && ticks && reports && injected:
		return true, in.end()
	}
	return false, fmt.Errorf("found a block %q after %d of %d ticks, %d of %d reports and %d of %d injections", name, in.read, h.Ticks, in.reports, h.Reports, in.injected, h.Injected)
}

// moreTicks makes room for n ticks and fills them in. Memory grows with what has arrived, not with what the head
// promises.
func (in *Reader) moreTicks(rec *harness.Record, content []byte, n int) error {
	stages, bays, from := len(rec.Plan.Setup.Vehicle.Stages), len(rec.Plan.Setup.Bays), rec.Ticks()
	rec.Times, rec.Active = longer(rec.Times, n), longer(rec.Active, n)
	if in.head.Late {
		rec.Late = longer(rec.Late, n)
	}
	rec.States, rec.Frames = longer(rec.States, n*stages), longer(rec.Frames, n*bays)
	return in.columns(content, "ticks", func(d *decoder) { in.ticks.unpack(d, rec, from, n) })
}

func longer[T any](list []T, n int) []T { return slices.Grow(list, n)[:len(list)+n] }

func (in *Reader) moreReports(rec *harness.Record, content []byte, n int) error {
	from := len(rec.Reports)
	rec.Reports = longer(rec.Reports, n)
	return in.columns(content, "reports", func(d *decoder) { unpackReports(d, in.ticks.first, rec.Reports[from:]) })
}

func (in *Reader) moreInjected(rec *harness.Record, content []byte, n int) error {
	s, from := &rec.Plan.Setup, len(rec.Injected)
	rec.Injected = longer(rec.Injected, n)
	if err := in.columns(content, "injections", func(d *decoder) { unpackInjected(d, in.ticks.first, rec.Injected[from:], s) }); err != nil {
		return err
	}
	for i := range rec.Injected[from:] {
		if x := &rec.Injected[from+i]; x.Fault >= len(s.Faults) || x.Bay >= len(s.Bays) {
			return fmt.Errorf("an injection by fault %d into board %d, of which there are %d and %d", x.Fault, x.Bay, len(s.Faults), len(s.Bays))
		}
	}
	return nil
}

// end wants nothing after the last block.
func (in *Reader) end() error {
	switch n, err := io.ReadFull(in.r, make([]byte, 1)); {
	case n > 0:
		return errors.New("found more bytes after the end of the record")
	case err != io.EOF:
		return err
	}
	return nil
}

// stranger says what a file is that does not begin as a record of this version does.
func (in *Reader) stranger(start []byte) error {
	const before = len(magic) - 2
	switch string(start) {
	case magic[:before] + "1\n", magic[:before] + "2\n":
		in.at = int64(len(magic))
		return fmt.Errorf("found %q, wanted %q: %s wrote this record, and it lacks what proves that it is whole; fly its scenario again", start, magic, in.writer())
	case magic[:before] + "3\n":
		in.at = int64(len(magic))
		return fmt.Errorf("found %q, wanted %q: %s wrote this record, in a format that is no longer read; show it with that one, or fly its scenario again", start, magic, in.writer())
	}
	if bytes.HasPrefix(start, []byte(magic[:before])) {
		return fmt.Errorf("found %q, wanted %q: a newer drystage wrote this record; read it with that one", start, magic)
	}
	return fmt.Errorf("found %q, wanted %q; this is no record", start, magic)
}

// writer names the drystage that wrote an older record, as far as its head still tells.
func (in *Reader) writer() string {
	var h struct{ Made harness.Maker }
	if name, content, err := in.block(); err == nil && name == headBlock && json.Unmarshal(content, &h) == nil && h.Made.Version != "" {
		return fmt.Sprintf("drystage %s, an older version,", h.Made.Version)
	}
	return "an older version of drystage"
}
