package main

import (
	"bytes"
	"encoding/csv"
	"io"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"
	"github.com/stretchr/testify/require"
)

func TestWrongUseOfFurtherFlights(t *testing.T) {
	shortSuite(t)
	for args, want := range map[string]string{
		"sweep short.yaml --indices --sampling sobol":                "need flights that are drawn independently",
		"sweep short.yaml --rare all":                                "--rare with --flights 20: wanted at least 100",
		"sweep short.yaml --flights 200 --rare 99":                   `--rare "99": wanted a number or a text that is in one expectation`,
		"sweep scenarios/nominal.yaml --indices":                     "varies nothing",
		"sweep short.yaml --until-width 0%":                          "--until-width 0%: wanted a share",
		"sweep short.yaml --only 1 --indices":                        "--only is one flight",
		"sweep short.yaml --samples a.xls":                           "wanted a name that ends in .csv or .parquet",
		"sweep short.yaml --samples nowhere/a.parquet":               "nowhere; make it first",
		"sweep short.yaml --samples nowhere/a.csv":                   "nowhere; make it first",
		"sweep short.yaml scenarios/launch-day.yaml --samples a.csv": "columns of its own",
		"hunt short.yaml --population 2":                             "--population 2: wanted 4 to 1000",
	} {
		args := strings.Fields(args)
		if !strings.Contains(strings.Join(args, " "), "--flights") {
			args = append(args, "--flights", "20")
		}
		code, _, words := do(t, args...)
		require.Equal(t, misused, code, args)
		require.Contains(t, words, want, args)
	}
}

// A sweep stops at the first flight at which its interval is tight enough; its table has a row for each flight until then.
func TestSweepUntilTight(t *testing.T) {
	shortSuite(t)
	code, out, words := do(t, "sweep", "short.yaml", "--flights", "500", "--until-width", "10%", "--samples", "a.csv", "--quiet")
	require.Equal(t, passed, code, words)
	require.Contains(t, out, "36 flights of short.yaml", "0.025^(1/36) is the first above 0.9")
	f, err := os.Open("a.csv")
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 37)
	require.Equal(t, "36", rows[36][0])
}

// The two formats of the table have the same columns and the same numbers to the bit, by readers that aren't ours.
func TestSamplesAsParquet(t *testing.T) {
	shortSuite(t)
	for _, file := range []string{"a.csv", "a.PARQUET"} {
		code, _, words := do(t, "sweep", "short.yaml", "--flights", "12", "--samples", file, "--quiet")
		require.Equal(t, passed, code, words)
	}
	f, err := os.Open("a.csv")
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 13)
	require.Contains(t, rows[0], "wind.speed [m/s]")
	binary, err := os.ReadFile("a.PARQUET")
	require.NoError(t, err)
	table, err := parquet.OpenFile(bytes.NewReader(binary), int64(len(binary)))
	require.NoError(t, err)
	for i, field := range table.Schema().Fields() {
		require.Equal(t, rows[0][i], field.Name())
	}
	got := make([]parquet.Row, 13)
	in := table.RowGroups()[0].Rows()
	defer in.Close()
	n, err := in.ReadRows(got)
	require.ErrorIs(t, err, io.EOF)
	require.Equal(t, 12, n)
	empty, numbers := 0, 0
	for i, row := range got[:n] {
		require.Len(t, row, len(rows[0]))
		for k, v := range row {
			text := rows[i+1][k]
			switch {
			case v.IsNull():
				require.Empty(t, text)
				empty++
			case v.Kind() == parquet.Double:
				want, err := strconv.ParseFloat(text, 64)
				require.NoError(t, err)
				require.Equal(t, math.Float64bits(want), math.Float64bits(v.Double()))
				numbers++
			case v.Kind() == parquet.Int64:
				require.Equal(t, text, strconv.FormatUint(v.Uint64(), 10))
			default:
				require.Equal(t, text, string(v.ByteArray()))
			}
		}
	}
	require.NotZero(t, empty, "stages that are in the air at the end lie nowhere")
	require.NotZero(t, numbers)
}
