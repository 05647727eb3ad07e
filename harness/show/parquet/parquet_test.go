package parquet

import (
	"bytes"
	"errors"
	"io"
	"math"
	"strings"
	"testing"

	reader "github.com/parquet-go/parquet-go"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// table is a table in memory, and the columns that Write takes.
type table struct {
	names   []string
	numbers [][]*float64 // nil: missing
	wholes  [][]uint64
	texts   [][]string
}

func (x *table) columns() (list []Column) {
	for _, c := range x.numbers {
		list = append(list, Column{Number: func(row int) (float64, bool) {
			if c[row] == nil {
				return 7, false
			}
			return *c[row], true
		}})
	}
	for _, c := range x.wholes {
		list = append(list, Column{Whole: func(row int) uint64 { return c[row] }})
	}
	for _, c := range x.texts {
		list = append(list, Column{Text: func(row int) string { return c[row] }})
	}
	for i := range list {
		list[i].Name = x.names[i]
	}
	return list
}

// read reads a file by another library, and wants the table in it.
func (x *table) read(t require.TestingT, file []byte, rows int) {
	f, err := reader.OpenFile(bytes.NewReader(file), int64(len(file)))
	require.NoError(t, err)
	require.EqualValues(t, rows, f.NumRows())
	var names []string
	for _, field := range f.Schema().Fields() {
		names = append(names, field.Name())
	}
	require.Equal(t, x.names, names)
	at := 0
	for _, g := range f.RowGroups() {
		in := g.Rows()
		for {
			var list [100]reader.Row
			n, err := in.ReadRows(list[:])
			for _, row := range list[:n] {
				x.same(t, row, at)
				at++
			}
			if errors.Is(err, io.EOF) {
				break
			}
			require.NoError(t, err)
		}
		require.NoError(t, in.Close())
	}
	require.Equal(t, rows, at)
}

func (x *table) same(t require.TestingT, row reader.Row, at int) {
	require.Len(t, row, len(x.names))
	k := 0
	for _, c := range x.numbers {
		if c[at] == nil {
			require.True(t, row[k].IsNull())
		} else {
			require.False(t, row[k].IsNull())
			require.Equal(t, math.Float64bits(*c[at]), math.Float64bits(row[k].Double()))
		}
		k++
	}
	for _, c := range x.wholes {
		require.Equal(t, c[at], row[k].Uint64())
		k++
	}
	for _, c := range x.texts {
		require.Equal(t, c[at], string(row[k].ByteArray()))
		k++
	}
}

// Whatever is in a table, an independent reader finds it, to the bit.
func TestAnotherReaderFindsTheTable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := rapid.IntRange(0, 50).Draw(t, "rows")
		x := table{
			numbers: rapid.SliceOfN(rapid.SliceOfN(rapid.Ptr(rapid.Float64(), true), rows, rows), 0, 20).Draw(t, "numbers"),
			wholes:  rapid.SliceOfN(rapid.SliceOfN(rapid.Uint64(), rows, rows), 1, 3).Draw(t, "wholes"),
			texts:   rapid.SliceOfN(rapid.SliceOfN(rapid.String(), rows, rows), 0, 3).Draw(t, "texts"),
		}
		n := len(x.numbers) + len(x.wholes) + len(x.texts)
		x.names = rapid.SliceOfNDistinct(rapid.StringMatching(`[a-zA-Z .0-9\[\]/]{1,20}`), n, n, rapid.ID).Draw(t, "names")
		var out bytes.Buffer
		require.NoError(t, Write(&out, x.columns(), rows))
		x.read(t, out.Bytes(), rows)
	})
}

// A table of more than one row group, with runs of missing numbers that are longer than a byte counts.
func TestManyRows(t *testing.T) {
	const rows = rowsOfGroup + 1000
	x := table{names: []string{"a", "n"}, numbers: [][]*float64{make([]*float64, rows)}, wholes: [][]uint64{make([]uint64, rows)}}
	for i := range rows {
		if i > 300 && i/1000%3 != 0 {
			v := 1 / float64(i)
			x.numbers[0][i] = &v
		}
		x.wholes[0][i] = uint64(i)
	}
	var out bytes.Buffer
	require.NoError(t, Write(&out, x.columns(), rows))
	x.read(t, out.Bytes(), rows)
}

func TestErrors(t *testing.T) {
	require.ErrorContains(t, Write(io.Discard, []Column{{Name: "a"}}, 1), `the column "a" has 0 functions: wanted one`)
	whole := []Column{{Name: "a", Whole: func(int) uint64 { return 1 }}}
	for n := range 3 {
		err := Write(&full{after: n}, whole, 1)
		require.ErrorContains(t, err, "no space")
	}
	require.NoError(t, Write(&full{after: 3}, whole, 1))
}

// full is a disk that takes some writes.
type full struct {
	strings.Builder
	after int
}

func (f *full) Write(b []byte) (int, error) {
	if f.after--; f.after < 0 {
		return 0, errors.New("no space")
	}
	return f.Builder.Write(b)
}
