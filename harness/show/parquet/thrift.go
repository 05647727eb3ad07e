package parquet

import "encoding/binary"

// thrift writes structures by the compact protocol of Apache Thrift: the number of a field as its distance from the one before.
type thrift struct {
	b     []byte
	last  int
	above []int // the last fields of the structures around
}

// Types of the protocol.
const (
	boolFalse = 2
	octet     = 3
	i32       = 5
	i64       = 6
	octets    = 8
	lists     = 9
	structs   = 12
)

// field begins a field, whose number is at most 15 more than that of the one before.
func (t *thrift) field(number, kind int) {
	t.b = append(t.b, byte((number-t.last)<<4|kind))
	t.last = number
}

// item writes a whole number without a field's head.
func (t *thrift) item(x int) { t.b = binary.AppendVarint(t.b, int64(x)) }

func (t *thrift) string(s string) {
	t.b = append(binary.AppendUvarint(t.b, uint64(len(s))), s...)
}

func (t *thrift) whole(number, kind, x int) {
	t.field(number, kind)
	t.item(x)
}

func (t *thrift) text(number int, s string) {
	t.field(number, octets)
	t.string(s)
}

func (t *thrift) octet(number int, x byte) {
	t.field(number, octet)
	t.b = append(t.b, x)
}

// no writes a field that is false.
func (t *thrift) no(number int) { t.field(number, boolFalse) }

// list begins a list of n items, which follow.
func (t *thrift) list(number, of, n int) {
	t.field(number, lists)
	if n < 15 {
		t.b = append(t.b, byte(n<<4|of))
		return
	}
	t.b = binary.AppendUvarint(append(t.b, byte(0xf0|of)), uint64(n))
}

// begin begins a structure as a field, element one as an item of a list. end ends it.
func (t *thrift) begin(number int) {
	t.field(number, structs)
	t.element()
}

func (t *thrift) element() {
	t.above = append(t.above, t.last)
	t.last = 0
}

func (t *thrift) end() {
	t.b = append(t.b, 0)
	if n := len(t.above); n > 0 {
		t.last, t.above = t.above[n-1], t.above[:n-1]
	}
}
