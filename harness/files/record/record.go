// Package record turns a harness.Record into bytes and back. The same record gives the
// same bytes. It never opens a file and never judges.
//
// The format: a line "drystage record 4\n", then blocks. A block is its name (one byte), the length
// of its content (uint32, little endian), the content, and the CRC-32C of name, length and content.
// Block H is the JSON of all that happens seldom, compressed by zstd. Blocks T hold ticks, R what boards reported, I what
// faults injected: each of up to 2048 rows, as columns, and readable without the others. Block E, empty, ends the record,
// so that a cut file is known as one.
//
// A block of columns is the length of its description (uint32, little endian), the description, compressed by zstd, and
// bits. The description says how each column is told: the words that change, few different ones, or by how much numbers
// differ from what is expected of them, in as many bits as most of a group need. See column.go and expand.go, pack.go and
// predict.go.
package record

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"sync"

	"drystage/harness"
)

const magic = "drystage record 4\n"

// Write writes a record. It refuses what Read would refuse: a malformed record, and a plan with a number that is
// not finite, for which JSON has no word.
func Write(w io.Writer, rec *harness.Record) error {
	h, err := headBytes(rec)
	if err != nil {
		return fmt.Errorf("record: %w", err)
	}
	out, ok := writers.Get().(*writer)
	if !ok {
		if out, err = newWriter(); err != nil {
			return fmt.Errorf("record: %w", err)
		}
	}
	out.w = w
	defer func() {
		out.w = nil
		writers.Put(out)
	}()
	if _, err := io.WriteString(w, magic); err != nil {
		return err
	}
	return out.record(rec, h)
}

// writers keep their memory from record to record. What they write doesn't depend on what they wrote before.
var writers sync.Pool

// headBytes gives the JSON of a record's head, if the record can be read again.
func headBytes(rec *harness.Record) ([]byte, error) {
	top := headOf(rec)
	if err := errors.Join(top.check(), whole(rec)); err != nil {
		return nil, err
	}
	if why := rec.Flaw(); why != "" {
		return nil, fmt.Errorf("malformed, so that nobody could judge it: %s", why)
	}
	h, err := json.Marshal(top)
	if err == nil && len(h) > largestHead {
		err = fmt.Errorf("everything but the ticks takes %d bytes, at most %d can be kept; let the board say less", len(h), largestHead)
	}
	return h, err
}

// record writes all blocks of a record.
func (w *writer) record(rec *harness.Record, head []byte) error {
	if err := w.block(headBlock, w.z.EncodeAll(head, nil)); err != nil {
		return err
	}
	t := newTicks(&rec.Plan.Setup, &w.grids)
	for from := 0; from < rec.Ticks(); from += perBlock {
		n := min(perBlock, rec.Ticks()-from)
		if err := w.columns(tickBlock, func(e *encoder) { t.pack(e, rec, from, n) }); err != nil {
			return err
		}
	}
	for from := 0; from < len(rec.Reports); from += perBlock {
		list := rec.Reports[from:min(from+perBlock, len(rec.Reports))]
		if err := w.columns(reportBlock, func(e *encoder) { packReports(e, t.first, list) }); err != nil {
			return err
		}
	}
	for from := 0; from < len(rec.Injected); from += perBlock {
		list := rec.Injected[from:min(from+perBlock, len(rec.Injected))]
		if err := w.columns(injectBlock, func(e *encoder) { packInjected(e, t.first, list, &rec.Plan.Setup) }); err != nil {
			return err
		}
	}
	return w.block(endBlock, nil)
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

// Read reads a record that Write wrote. Errors tell the byte at which the trouble lies.
func Read(r io.Reader) (harness.Record, error) {
	in, rec, err := Open(r)
	for err == nil {
		err = in.Next(&rec)
	}
	if err == io.EOF {
		err = nil
		if why := rec.Flaw(); why != "" {
			err = in.wrong(fmt.Errorf("found a malformed record: %s", why))
		}
	}
	if err != nil {
		return harness.Record{}, err
	}
	return rec, nil
}
