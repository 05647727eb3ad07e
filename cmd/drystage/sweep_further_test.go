package main

import (
	"encoding/csv"
	"os"
	"strings"
	"testing"

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
		"sweep short.yaml --samples a.parquet":                       "wanted a name that ends in .csv",
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
