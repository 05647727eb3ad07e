package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// do runs a command as a person types it.
func do(t *testing.T, args ...string) (status int, out, errs string) {
	t.Helper()
	var o, e strings.Builder
	status = execute(args, &console{ctx: t.Context(), in: strings.NewReader(""), out: &o, err: &e})
	return status, o.String(), e.String()
}

// folder makes a folder of files and works in it.
func folder(t *testing.T, files map[string]string) {
	t.Helper()
	t.Chdir(t.TempDir())
	for name, text := range files {
		require.NoError(t, os.MkdirAll(filepath.Dir(name), 0o755))
		require.NoError(t, os.WriteFile(name, []byte(text), 0o644))
	}
}

// A short flight of the shipped vehicle, copied beside it.
const shortFlight = `title: Short
vehicle: vehicles/dunlin.yaml
boards:
  sustainer: {file: boards/sustainer.yaml}
until: booster.burnout
expect:
  - {never: sustainer.main}
`

// shippedHere copies the shipped vehicles, motors and boards here, and counts them.
func shippedHere(t *testing.T) (files int) {
	t.Helper()
	for _, dir := range []string{"vehicles", "motors", "boards"} {
		require.NoError(t, os.CopyFS(dir, os.DirFS(shippedRoot+"/"+dir)))
		here, err := os.ReadDir(dir)
		require.NoError(t, err)
		files += len(here)
	}
	return files
}

var shippedRoot, _ = filepath.Abs(root + "/scenarios")

// TestEveryScenarioOfAFolderIsFlown: however a scenario's first key is written and its file is called, it is
// found by all commands that take folders.
func TestEveryScenarioOfAFolderIsFlown(t *testing.T) {
	slow(t)
	folder(t, map[string]string{
		"plain.yaml":   "drystage: scenario\n" + shortFlight,
		"comment.yaml": "drystage: scenario # comment\n" + shortFlight,
		"quoted.yaml":  "\"drystage\": 'scenario'\n" + shortFlight,
		"bom.yaml":     "\uFEFFdrystage: scenario\n" + shortFlight,
		"doc.yaml":     "--- # doc\ndrystage: scenario\n" + shortFlight,
		"flow.yaml":    "{drystage: scenario, like: plain.yaml}\n",
		"next.yaml":    "drystage:\n  scenario\n" + shortFlight,
		"space.yaml":   "drystage : scenario\n" + shortFlight,
		"long.yaml":    "# " + strings.Repeat("x", 1<<16) + "\ndrystage: scenario\n" + shortFlight,
		"upper.YAML":   "drystage: scenario\n" + shortFlight,
		"short.yml":    "drystage: scenario\n" + shortFlight,
		"other.yml":    "services: {a: 1}\n",
		"notes.txt":    "drystage: scenario\n",
	})
	shipped := shippedHere(t)
	elsewhere := t.TempDir()
	require.NoError(t, os.WriteFile(elsewhere+"/linked.yaml", []byte("drystage: scenario\nlike: ../plain.yaml\n"), 0o644))
	require.NoError(t, os.Symlink(elsewhere, "link"))
	require.NoError(t, os.Symlink("..", "vehicles/up"))     // a circle
	require.NoError(t, os.Symlink("boards", "boards-also")) // the same again
	require.NoError(t, os.Symlink("/", "motors/root"))      // holds this folder

	names := strings.Fields("bom comment doc flow linked long next plain quoted short space upper")
	status, out, errs := do(t, "bench", "--list", ".")
	require.Equal(t, passed, status, errs)
	var listed []string
	for line := range strings.Lines(out) {
		if strings.HasSuffix(line, "Short\n") {
			listed = append(listed, strings.Fields(line)[0])
		}
	}
	require.ElementsMatch(t, names, listed)
	require.Contains(t, out, "1 file is none of drystage's, and not listed:\n  other.yml\n")

	for _, args := range [][]string{
		{"bench", "-q", "."}, {"bench", "-q", "--format", "json", "."}, {"bench", "-q", "--format", "junit", "."},
		{"bench", "-q", "--repeat", "2", "."}, {"sweep", "-q", "--flights", "1", "."}, {"sweep", "-q", "--flights", "1", "--format", "json", "."},
	} {
		status, out, errs := do(t, args...)
		require.Equal(t, passed, status, errs)
		for _, name := range names {
			require.Contains(t, out, name, args)
		}
		require.Contains(t, out, "other.yml", args)
		require.NotContains(t, out, "notes.txt", args)
	}
	for _, args := range [][]string{{"defects", "-q", "."}, {"defects", "-q", "--format", "json", "."}} {
		status, out, errs := do(t, append(args, "--defect", "ignores-tilt")...)
		require.Equal(t, failed, status, errs)
		require.Contains(t, out, "linked", args)
		require.Contains(t, out, "other.yml", args)
	}
	status, out, errs = do(t, "lint", ".")
	require.Equal(t, passed, status, out+errs)
	require.Contains(t, out, fmt.Sprintf("%d files, no finding\n", len(names)+shipped))
	require.Contains(t, out, "other.yml")

	status, _, errs = do(t, "bench", "-q", "--out", "flown", "plain.yaml")
	require.Equal(t, passed, status, errs)
	for _, format := range []string{"text", "json"} {
		status, out, errs = do(t, "ready", "flown", "--suite", ".", "--format", format)
		require.Equal(t, unsure, status, errs)
		require.Contains(t, out, "linked", "has no record")
		require.Contains(t, out, "other.yml")
	}
}

// TestWhatCantBeReadEndsTheRun: it may have been a scenario.
func TestWhatCantBeReadEndsTheRun(t *testing.T) {
	slow(t)
	good := "drystage: scenario\n" + shortFlight
	for _, row := range []struct{ reason, name, text, problem string }{
		{"broken", "b.yaml", "drystage: [scenario", "b.yaml:1:11: found broken YAML"},
		{"no text", "b.yaml", "drystage: scenario\xff", "b.yaml:1:19: found byte 0xff"},
		{"empty", "b.yml", "", "b.yml:1:1: found an empty file"},
		{"a kind that there isn't", "b.yaml", "drystage: senario\n", `did you mean "scenario"?`},
		{"the first key is another", "b.yaml", "title: T\ndrystage: scenario\n", `b.yaml:1:1: found first key "title"`},
		{"two documents", "b.yaml", "a: 1\n---\ndrystage: scenario\n", "b.yaml:2:1: found a second document"},
	} {
		folder(t, map[string]string{"a.yaml": good, row.name: row.text})
		shippedHere(t)
		for _, args := range [][]string{{"bench", "-q"}, {"lint"}, {"defects", "-q"}, {"sweep", "-q", "--flights", "1"}} {
			status, out, errs := do(t, append(args, ".")...)
			require.Equal(t, misused, status, row.reason)
			require.Contains(t, out+errs, row.problem, "%s: %s", args[0], row.reason)
		}
	}
	folder(t, map[string]string{"a.yaml": good})
	shippedHere(t)
	require.NoError(t, os.Symlink("gone.yaml", "b.yaml"))
	require.NoError(t, os.Symlink("gone", "suite"))
	require.NoError(t, os.Symlink("self", "self"))
	for _, command := range []string{"bench", "lint"} {
		status, out, errs := do(t, command, ".")
		require.Equal(t, misused, status)
		require.Contains(t, out+errs, "b.yaml: found no such file or directory")
		require.Contains(t, out+errs, "suite: found no such file or directory")
		require.Contains(t, out+errs, "self: found too many levels of symbolic links")
	}
}

// TestShippedFilesHaveOneRule: a path that is not on the disk may name a shipped file or folder, with a word.
func TestShippedFilesHaveOneRule(t *testing.T) {
	slow(t)
	for _, row := range []struct {
		reason string
		status int
		args   string
	}{
		{"a file", passed, "bench -q scenarios/nominal.yaml"},
		{"a folder", passed, "lint scenarios/boards"},
		{"a motor", passed, "lint scenarios/motors/alder.csv"},
		{"a vehicle", passed, "fly scenarios/vehicles/dunlin.yaml"},
		{"a rig", passed, "rig scenarios/rigs/simulated.yaml"},
		{"a sweep", passed, "sweep -q --flights 1 --seed 3 scenarios/launch-day.yaml"},
		{"a defect", passed, "defects -q --defect ignores-tilt scenarios/staging-tilt.yaml"},
		{"a range", misused, "hunt scenarios/nominal.yaml"},
		{"a suite", unsure, "ready flown --suite scenarios/nominal.yaml"},
		{"a log", unsure, "replay scenarios/nominal.yaml --timeout 1ns"},
	} {
		folder(t, nil)
		if strings.HasPrefix(row.args, "ready") {
			status, _, errs := do(t, "bench", "-q", "--out", "flown", "scenarios/nominal.yaml")
			require.Equal(t, passed, status, errs)
		}
		status, _, errs := do(t, strings.Fields(row.args)...)
		require.Contains(t, errs, " is not on this disk; the shipped one is used\n", row.args)
		require.True(t, status == row.status || strings.HasPrefix(row.args, "replay"), "%s: %d %s", row.args, status, errs)
	}
	folder(t, map[string]string{"scenarios/other.yaml": ""})
	for _, args := range []string{"bench scenarios/nominal.yml", "lint nominal.yaml", "rig none.yaml"} {
		status, _, errs := do(t, strings.Fields(args)...)
		require.Equal(t, misused, status, args)
		require.NotContains(t, errs, "shipped one is used", args)
	}
	for args, near := range map[string]string{
		"bench scenarios/othre.yaml":               "scenarios/other.yaml",   // beside it on the disk
		"sweep scenarios/nominl.yaml":              "scenarios/nominal.yaml", // shipped
		"fly scenarios/vehicles/dunln.yaml":        "scenarios/vehicles/dunlin.yaml",
		"bench senarios":                           "scenarios",
		"bench --rig scenarios/rigs/simulted.yaml": "scenarios/rigs/simulated.yaml",
		"examine scenarios/othe.yaml":              "scenarios/other.yaml",
		"replay scenarios/othe.yaml":               "scenarios/other.yaml",
		"lint scenarios/otter.yaml":                "scenarios/other.yaml",
	} {
		status, _, errs := do(t, strings.Fields(args)...)
		require.Equal(t, misused, status, args)
		require.Contains(t, errs, "did you mean "+near+"?", args)
	}
	status, _, errs := do(t, "bench", "zebra.yaml")
	require.Equal(t, misused, status)
	require.NotContains(t, errs, "did you mean")
}

// TestContractScenarioIsOfARig: a flag that would do nothing is refused.
func TestContractScenarioIsOfARig(t *testing.T) {
	status, _, errs := do(t, "contract", "--scenario", "scenarios/nominal.yaml")
	require.Equal(t, misused, status)
	require.Contains(t, errs, "there is no rig here")
}

// TestTablesBesideMotors: lint takes a table for a motor's when its header says so or a vehicle names it.
func TestTablesBesideMotors(t *testing.T) {
	slow(t)
	folder(t, nil)
	shipped := shippedHere(t)
	status, _, errs := do(t, "fly", "vehicles/dunlin.yaml", "--csv", "truth.csv")
	require.Equal(t, passed, status, errs)
	status, out, _ := do(t, "lint", ".")
	require.Equal(t, passed, status, out)
	require.Contains(t, out, fmt.Sprintf("%d files, no finding\n1 file is none of drystage's, and not checked:\n  truth.csv\n", shipped))

	require.NoError(t, os.WriteFile("motors/alder.csv", []byte("a,b\n1,2\n"), 0o644))
	status, out, _ = do(t, "lint", ".")
	require.Equal(t, misused, status)
	require.Contains(t, out, "motors/alder.csv:1:1: found", "a vehicle names it")
	require.NotContains(t, out, "  motors/alder.csv\n", "it is one of ours")

	require.NoError(t, os.WriteFile("motors/alder.csv", []byte("time_s,thrust_n\n1,x\n"), 0o644))
	require.NoError(t, os.RemoveAll("vehicles"))
	status, out, _ = do(t, "lint", "motors")
	require.Equal(t, misused, status)
	require.Contains(t, out, "motors/alder.csv:2:", "its header says so")
	status, _, _ = do(t, "lint", "truth.csv")
	require.Equal(t, misused, status, "a table that is named is checked")
}
