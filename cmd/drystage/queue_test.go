//go:build linux

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"drystage/harness/run/campaign/queuetest"
)

var moment = regexp.MustCompile(`"(began|seconds|host)": [^,\n]*`)

// TestManyWorkers: a sweep by four workers, two of which are killed, over a server that is killed and started again, prints
// what the sweep prints in one process.
func TestManyWorkers(t *testing.T) {
	slow(t)
	dir := t.TempDir()
	bin := program(t, dir)
	shortSuite(t)
	queue := queuetest.Start(t)
	url := queue.URL
	sweep := []string{"sweep", "short.yaml", "--flights", "80", "--format", "json", "--quiet"}
	one, err := exec.Command(bin, sweep...).Output()
	require.NoError(t, err)
	var workers []*exec.Cmd
	for range 4 {
		w := exec.Command(bin, "worker", "--queue", url, "--jobs", "1")
		require.NoError(t, w.Start())
		t.Cleanup(func() { _ = w.Process.Kill(); _ = w.Wait() })
		workers = append(workers, w)
	}
	var out, words strings.Builder
	c := exec.Command(bin, append(sweep, "--queue", url)...)
	c.Stdout, c.Stderr = &out, &words
	require.NoError(t, c.Start())
	for _, w := range workers[:2] {
		time.Sleep(300 * time.Millisecond)
		require.NoError(t, w.Process.Signal(syscall.SIGKILL))
	}
	queue.Restart()
	require.NoError(t, c.Wait(), words.String())
	require.True(t, moment.ReplaceAllString(string(one), "") == moment.ReplaceAllString(out.String(), ""), "the same but for the time that it took:\n%s\nand\n%.2000s", one, &out)
}

// TestTheSuiteByQueue: bench judges the records that workers send, and keeps them as its own.
func TestTheSuiteByQueue(t *testing.T) {
	dir := t.TempDir()
	bin := program(t, dir)
	shortSuite(t)
	url := queuetest.Start(t).URL
	w := exec.Command(bin, "worker", "--queue", url)
	require.NoError(t, w.Start())
	t.Cleanup(func() { _ = w.Process.Kill(); _ = w.Wait() })
	here, err := exec.Command(bin, "bench", "short.yaml", "scenarios/unarmed.yaml", "--quiet", "--out", "here").Output()
	require.NoError(t, err)
	far, err := exec.Command(bin, "bench", "short.yaml", "scenarios/unarmed.yaml", "--quiet", "--out", "far", "--queue", url).Output()
	require.NoError(t, err)
	took := regexp.MustCompile(`in [0-9.]+ s`)
	require.Equal(t, took.ReplaceAllString(string(here), ""), took.ReplaceAllString(string(far), ""))
	for _, name := range []string{"short", "unarmed"} {
		a, err := os.ReadFile(filepath.Join("here", name+".record"))
		require.NoError(t, err)
		b, err := os.ReadFile(filepath.Join("far", name+".record"))
		require.NoError(t, err)
		require.Equal(t, a, b, name)
	}
	for _, args := range [][]string{
		{"sweep", "short.yaml", "--flights", "300", "--rare", "1", "--indices", "--until-width", "8%", "--quiet"},
		{"hunt", "short.yaml", "--flights", "24", "--population", "6", "--quiet"},
		{"defects", "scenarios/unarmed.yaml", "short.yaml", "--defect", "ignores-arming", "--quiet"},
	} {
		if raceOn {
			break // many flights: make suite
		}
		here, _ := exec.Command(bin, args...).Output()
		far, _ := exec.Command(bin, append(args, "--queue", url)...).Output()
		require.NotEmpty(t, here, args)
		require.Equal(t, string(here), string(far), args)
	}
	listed, err := exec.Command(bin, "benches", "--queue", url).Output()
	require.NoError(t, err)
	require.Regexp(t, `built-in boards, \d+ at once`, string(listed))
}

func TestWrongUseOfAQueue(t *testing.T) {
	shortSuite(t)
	for args, want := range map[string]string{
		"sweep short.yaml --queue nats://127.0.0.1:1":                   "the queue nats://127.0.0.1:1: ",
		"sweep short.yaml --queue nats://127.0.0.1:1 --board exec:true": "board exec:true is not built in.*--board bench:NAME",
		"sweep short.yaml --queue nats://127.0.0.1:1 --board top=mock":  "found no board top",
		"sweep short.yaml --queue nats://127.0.0.1:1 --board bench:A":   "wanted lower-case letters",
		"sweep short.yaml --queue nats://127.0.0.1:1 --real-time":       "needs a bench that a worker offers",
		"bench short.yaml --queue nats://127.0.0.1:1 --repeat 3":        "leave out --queue",
		"bench short.yaml --board bench:a":                              "name the queue, --queue nats://HOST:PORT",
		"sweep short.yaml --board bench:a --only 2":                     "name the queue, --queue nats://HOST:PORT",
		"bench short.yaml --late-limit 1ms":                             "say --real-time",
		"bench short.yaml --late-limit 1ms --queue nats://127.0.0.1:1":  "say --real-time",
		"worker":  "name the queue",
		"benches": "name the queue",
		"worker --queue nats://127.0.0.1:1 --board mock":                "name the bench",
		"worker --queue nats://127.0.0.1:1 --bench a":                   "name its boards with --board",
		"worker --queue nats://127.0.0.1:1 --bench a --board serial:":   "ends too early",
		"worker --queue nats://127.0.0.1:1 --answer-limit 1s":           "unknown flag --answer-limit", // as --timeout and --late-limit, it is the sender's
		"worker --queue nats://127.0.0.1:1 --bench a --board exec:true": "refused: say --inert",
		"worker --queue nats://127.0.0.1:1 --queue-key k.pem":           "belong together",
	} {
		code, _, words := do(t, strings.Fields(args)...)
		require.NotEqual(t, passed, code, args)
		require.Regexp(t, want, words, args)
	}
}
