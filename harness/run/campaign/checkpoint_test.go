package campaign

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/run"
	"drystage/harness/vary"
)

// resumed flies n flights of a sweep of a short plan with a file, and ends after some. It gives which flights were flown, and the
// results.
func resumed(t *testing.T, file string, n, stopAfter int) (flown []int, out []harness.Verdict, err error) {
	p := shortPlan(t)
	plans := []harness.Plan{p}
	opt := run.Options{Jobs: 1}
	c, err := OpenCheckpoint(file, IdentityOf(plans, &opt))
	if err != nil {
		return nil, nil, err
	}
	defer func() { require.NoError(t, c.Close()) }()
	b, err := run.Open(t.Context(), opt, plans)
	require.NoError(t, err)
	defer b.Close()
	err = c.Judged(t.Context(), b, n, strconv.Itoa, func(i int) run.Flight {
		x := vary.Plan(&p, i+1, harness.Random)
		return run.Flight{Plan: &x}
	}, func(i int, rec *harness.Record, f *Flown) error {
		require.Equal(t, len(out), i, "in order")
		require.Len(t, f.Landed, 2)
		if rec != nil {
			flown = append(flown, i)
		}
		if out = append(out, f.Verdict); len(out) == stopAfter {
			return context.Canceled
		}
		return nil
	})
	return flown, out, err
}

// What is known isn't flown again, and results and file are those of a run that nobody has interrupted, to the bit.
func TestACheckpointGoesOn(t *testing.T) {
	dir := t.TempDir()
	whole, part := filepath.Join(dir, "whole"), filepath.Join(dir, "part")
	flown, want, err := resumed(t, whole, 9, 0)
	require.NoError(t, err)
	require.Equal(t, []int{0, 1, 2, 3, 4, 5, 6, 7, 8}, flown)
	_, _, err = resumed(t, part, 9, 4)
	require.ErrorIs(t, err, context.Canceled)
	text, err := os.ReadFile(part)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(part, text[:len(text)-3], 0o644), "as of a crash while the fourth was written")
	flown, got, err := resumed(t, part, 9, 0)
	require.NoError(t, err)
	require.Equal(t, []int{3, 4, 5, 6, 7, 8}, flown)
	same(t, want, got)
	a, err := os.ReadFile(whole)
	require.NoError(t, err)
	b, err := os.ReadFile(part)
	require.NoError(t, err)
	require.True(t, string(a) == string(b))
	flown, got, err = resumed(t, part, 9, 0)
	require.NoError(t, err)
	require.Empty(t, flown)
	same(t, want, got)
	for at := range a { // a byte changed anywhere: refused, or flown again, never another result
		if at%97 != 0 {
			continue
		}
		b := append([]byte(nil), a...)
		b[at] ^= 1
		require.NoError(t, os.WriteFile(part, b, 0o644))
		if _, got, err = resumed(t, part, 1, 0); err == nil {
			same(t, want[:1], got)
		}
	}
}

// Flights that are known in the middle, as of a hunt, are passed on in their places.
func TestKnownFlightsKeepTheirPlaces(t *testing.T) {
	file := filepath.Join(t.TempDir(), "some")
	p := shortPlan(t)
	plans := []harness.Plan{p}
	opt := run.Options{Jobs: 2}
	c, err := OpenCheckpoint(file, IdentityOf(plans, &opt))
	require.NoError(t, err)
	defer c.Close()
	b, err := run.Open(t.Context(), opt, plans)
	require.NoError(t, err)
	defer b.Close()
	fly := func(list ...int) (seeds []uint64, flown int) {
		require.NoError(t, c.Judged(t.Context(), b, len(list), func(i int) string { return strconv.Itoa(list[i]) }, func(i int) run.Flight {
			x := vary.Plan(&p, list[i], harness.Random)
			return run.Flight{Plan: &x}
		}, func(i int, rec *harness.Record, f *Flown) error {
			require.Len(t, seeds, i)
			seeds = append(seeds, f.Verdict.Seed)
			if rec != nil {
				flown++
			}
			return nil
		}))
		return seeds, flown
	}
	_, n := fly(2, 5)
	require.Equal(t, 2, n)
	seeds, n := fly(5, 1, 2, 3, 5, 2)
	require.Equal(t, 2, n)
	for i, k := range []int{5, 1, 2, 3, 5, 2} {
		require.Equal(t, vary.Seed(p.Setup.Seed, k), seeds[i])
	}
}

func TestACheckpointOfOtherFlightsIsRefused(t *testing.T) {
	file := filepath.Join(t.TempDir(), "a")
	p := shortPlan(t)
	opt := run.Options{Boards: []string{"mock"}}
	now := func() Identity { return IdentityOf([]harness.Plan{p}, &opt) }
	c, err := OpenCheckpoint(file, now())
	require.NoError(t, err)
	require.NoError(t, c.Close())
	for _, x := range []struct {
		change func(id *Identity)
		want   string
	}{
		{func(id *Identity) { id.Made.Version = "0.0.9" }, "this one is 0.0.9"},
		{func(id *Identity) { id.Boards = []string{"mock:ignores-tilt"} }, `now they are ["mock:ignores-tilt"]`},
		{func(id *Identity) { id.Timeout++ }, "limits of time"},
		{func(id *Identity) { id.Seeds["short.yaml"] = 9 }, "short.yaml with seed 1, now the seed is 9"},
		{func(id *Identity) { id.Seeds = map[string]uint64{"other.yaml": 1} }, "it is not of other.yaml"},
		{func(id *Identity) { id.Seeds = nil }, "it is of short.yaml, too"},
		{func(id *Identity) { id.Files["short.yaml"] = "00" }, "short.yaml has changed since"},
		{func(id *Identity) { id.Files["vehicles/dunlin.yaml"] = "00" }, "vehicles/dunlin.yaml has changed since"},
	} {
		id := now()
		x.change(&id)
		_, err := OpenCheckpoint(file, id)
		require.ErrorContains(t, err, "its flights can't be used: ")
		require.ErrorContains(t, err, x.want)
	}
	for _, text := range []string{"x", "x\n", "{}\n", "a row\nof a table\n"} {
		require.NoError(t, os.WriteFile(file, []byte(text), 0o644))
		_, err := OpenCheckpoint(file, now())
		require.ErrorContains(t, err, "no earlier --resume has written")
		left, err := os.ReadFile(file)
		require.NoError(t, err)
		require.Equal(t, text, string(left), "nobody's file is touched")
	}
	_, err = OpenCheckpoint(filepath.Dir(file), now())
	require.Error(t, err)
	_, err = OpenCheckpoint(filepath.Join(file, "b"), now())
	require.Error(t, err)
	require.False(t, errors.Is(err, os.ErrNotExist))
}
