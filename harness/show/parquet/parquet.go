// Package parquet writes flat tables in the file format Apache Parquet (https://parquet.apache.org/docs/file-format, version 2.9 of its
// definitions): plain values and data pages of version 1, compressed by zstd. It reads none.
package parquet

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"

	"github.com/klauspost/compress/zstd"
)

// Column is a column of a table: one of its functions gives what a row has, from 0.
type Column struct {
	Name   string
	Number func(row int) (x float64, there bool) // a double, which may be missing
	Whole  func(row int) uint64
	Text   func(row int) string // UTF-8
}

// rowsOfGroup is the largest number of rows of a row group; each of its columns is one page.
const rowsOfGroup = 1 << 16

var magic = []byte("PAR1")

// group is a row group that was written.
type group struct {
	rows   int
	chunks []chunk
}

// chunk is where a column of a row group is, with its sizes in bytes.
type chunk struct {
	offset, plain, packed int
}

// Write writes a table. A column has exactly one function.
func Write(w io.Writer, columns []Column, rows int) error {
	for _, c := range columns {
		if c.kinds() != 1 {
			return fmt.Errorf("the column %q has %d functions: wanted one", c.Name, c.kinds())
		}
	}
	pack, err := zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1))
	if err != nil {
		return err
	}
	defer pack.Close()
	at := 0
	put := func(b []byte) error {
		at += len(b)
		_, err := w.Write(b)
		return err
	}
	if err := put(magic); err != nil {
		return err
	}
	var groups []group
	for from := 0; from < rows; from += rowsOfGroup {
		g := group{rows: min(rowsOfGroup, rows-from)}
		for i := range columns {
			body := columns[i].page(from, from+g.rows)
			packed := pack.EncodeAll(body, nil)
			head := pageHeader(len(body), len(packed), g.rows)
			g.chunks = append(g.chunks, chunk{at, len(head) + len(body), len(head) + len(packed)})
			if err := put(append(head, packed...)); err != nil {
				return err
			}
		}
		groups = append(groups, g)
	}
	foot := footer(columns, groups, rows)
	foot = binary.LittleEndian.AppendUint32(foot, uint32(len(foot)))
	return put(append(foot, magic...))
}

func (c *Column) kinds() (n int) {
	for _, there := range []bool{c.Number != nil, c.Whole != nil, c.Text != nil} {
		if there {
			n++
		}
	}
	return n
}

// page gives the body of the page with some rows. Numbers that are missing have no bytes; which are there is told before.
func (c *Column) page(from, to int) (b []byte) {
	switch {
	case c.Whole != nil:
		for i := from; i < to; i++ {
			b = binary.LittleEndian.AppendUint64(b, c.Whole(i))
		}
	case c.Text != nil:
		for i := from; i < to; i++ {
			s := c.Text(i)
			b = append(binary.LittleEndian.AppendUint32(b, uint32(len(s))), s...)
		}
	default:
		var levels []byte
		run, was := 0, false
		flush := func() {
			if run > 0 {
				levels = append(binary.AppendUvarint(levels, uint64(run)<<1), map[bool]byte{true: 1}[was])
			}
			run = 0
		}
		for i := from; i < to; i++ {
			x, there := c.Number(i)
			if there != was {
				flush()
			}
			run, was = run+1, there
			if there {
				b = binary.LittleEndian.AppendUint64(b, math.Float64bits(x))
			}
		}
		flush()
		b = append(append(binary.LittleEndian.AppendUint32(nil, uint32(len(levels))), levels...), b...)
	}
	return b
}

// Numbers of the format.
const (
	typeInt64, typeDouble, typeBytes = 2, 5, 6
	required, optional               = 0, 1
	utf8, uint64s                    = 0, 14 // converted types
	logicalText, logicalWhole        = 1, 10
	codecZstd                        = 6
	plain, runs                      = 0, 3 // encodings
	dataPage                         = 0
)

func pageHeader(size, packed, rows int) []byte {
	var t thrift
	t.whole(1, i32, dataPage)
	t.whole(2, i32, size)
	t.whole(3, i32, packed)
	t.begin(5)
	t.whole(1, i32, rows)
	t.whole(2, i32, plain)
	t.whole(3, i32, runs) // of which values are there
	t.whole(4, i32, runs)
	t.end()
	t.end()
	return t.b
}

func footer(columns []Column, groups []group, rows int) []byte {
	var t thrift
	t.whole(1, i32, 1)
	t.list(2, structs, len(columns)+1)
	t.element()
	t.text(4, "schema")
	t.whole(5, i32, len(columns))
	t.end()
	for i := range columns {
		t.element()
		columns[i].schema(&t)
		t.end()
	}
	t.whole(3, i64, rows)
	t.list(4, structs, len(groups))
	for _, g := range groups {
		t.element()
		g.tell(&t, columns)
		t.end()
	}
	t.text(6, "drystage")
	t.end()
	return t.b
}

// kind is the type of a column's values, and if some may be missing.
func (c *Column) kind() (kind, repetition int) {
	switch {
	case c.Whole != nil:
		return typeInt64, required
	case c.Text != nil:
		return typeBytes, required
	}
	return typeDouble, optional
}

func (c *Column) schema(t *thrift) {
	kind, repetition := c.kind()
	t.whole(1, i32, kind)
	t.whole(3, i32, repetition)
	t.text(4, c.Name)
	switch {
	case c.Whole != nil:
		t.whole(6, i32, uint64s)
		t.begin(10)
		t.begin(logicalWhole)
		t.octet(1, 64)
		t.no(2) // not signed
		t.end()
		t.end()
	case c.Text != nil:
		t.whole(6, i32, utf8)
		t.begin(10)
		t.begin(logicalText)
		t.end()
		t.end()
	}
}

func (g *group) tell(t *thrift, columns []Column) {
	t.list(1, structs, len(columns))
	size := 0
	for i, x := range g.chunks {
		size += x.plain
		kind, _ := columns[i].kind()
		t.element()
		t.whole(2, i64, x.offset)
		t.begin(3)
		t.whole(1, i32, kind)
		t.list(2, i32, 2)
		t.item(plain)
		t.item(runs)
		t.list(3, octets, 1)
		t.string(columns[i].Name)
		t.whole(4, i32, codecZstd)
		t.whole(5, i64, g.rows)
		t.whole(6, i64, x.plain)
		t.whole(7, i64, x.packed)
		t.whole(9, i64, x.offset)
		t.end()
		t.end()
	}
	t.whole(2, i64, size)
	t.whole(3, i64, g.rows)
}
