//go:build unix

package main

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// slowLog writes a flight log that takes a while to read.
func slowLog(t *testing.T, name string) {
	f, err := os.Create(name)
	require.NoError(t, err)
	defer f.Close()
	var b strings.Builder
	fmt.Fprintln(&b, "time_s,height_m,accel_x_m_s2,accel_y_m_s2,accel_z_m_s2")
	for i := range 2_000_000 {
		fmt.Fprintf(&b, "%d.%03d,%d,9.8,0.1,0.2\n", i/1000, i%1000, i%977)
	}
	_, err = io.WriteString(f, b.String())
	require.NoError(t, err)
}

// A quiet command that is asked by a signal tells how far it is, and goes on.
func TestAQuietCommandAnswersASignal(t *testing.T) {
	slow(t)
	folder(t, nil)
	c := exec.Command(program(t, t.TempDir()), "sweep", "-q", "scenarios/launch-day.yaml", "--flights", "100000", "--jobs", "1")
	told, err := c.StderrPipe()
	require.NoError(t, err)
	require.NoError(t, c.Start())
	b := bufio.NewReader(told)
	first, err := b.ReadString('\n') // from then on it hears signals
	require.NoError(t, err)
	require.Contains(t, first, "the shipped one is used")
	line := make(chan string, 1)
	go func() {
		for {
			text, err := b.ReadString('\n')
			if err != nil || strings.HasPrefix(text, "drystage: ") {
				line <- text
				return
			}
		}
	}()
	var got string
	for got == "" { // until it flies
		require.NoError(t, c.Process.Signal(syscall.SIGUSR1))
		select {
		case got = <-line:
		case <-time.After(50 * time.Millisecond):
		}
	}
	assert.Regexp(t, `^drystage: \d+ of 100000 flown, \d+ not passed; \d+ s(, about .* left)?\n$`, got)
	require.NoError(t, c.Process.Signal(os.Interrupt))
	_ = c.Wait() // its status is that of an interrupt, which another test wants
}

// hearHangups lets what a test starts be ended by SIGHUP, under nohup too, which children take over.
func hearHangups(t *testing.T) {
	c := make(chan os.Signal, 1)
	signal.Notify(c, syscall.SIGHUP)
	t.Cleanup(func() { signal.Stop(c) })
}

// Wherever a command is, it ends soon after it was told to, with a status of no success, and what it was
// writing is not there. The bound is wide for busy machines; supervise gives a command 0.7 s.
func TestEveryCommandEndsWhenToldTo(t *testing.T) {
	slow(t)
	hearHangups(t)
	shortSuite(t)
	name := program(t, t.TempDir())
	slowLog(t, "slow.csv")
	deaf := "exec:sleep 100"
	for i, c := range []struct{ reason, args string }{
		{"drawing and flying", "sweep -q scenarios/launch-day.yaml --flights 100000 --jobs 1"},
		{"searching", "hunt -q scenarios/launch-day.yaml --flights 1000000"},
		{"one round after the other", "bench -q scenarios/nominal.yaml --repeat 1000000"},
		{"one defect after the other", "defects -q --jobs 1"},
		{"waiting for a board", "bench -q short.yaml --timeout 100s --board"},
		{"waiting for a board, at its handshake", "contract --timeout 100s --board"},
		{"reading a log", "examine slow.csv --html page.html"},
		{"reading a log to play it", "replay slow.csv"},
		{"measuring a clock", "pace -q --for 100s"},
		{"measuring pins", "rig scenarios/rigs/simulated.yaml --measure --count 10000"},
		{"waiting to be told something", "play"},
		{"writing a table", "fly scenarios/vehicles/dunlin.yaml --csv truth.csv --every 0.1ms"},
		{"printing what nobody reads", "show flown/short.record --csv -"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			args := strings.Fields(c.args)
			if args[len(args)-1] == "--board" {
				args = append(args, deaf)
			}
			if args[0] == "show" {
				require.NoError(t, exec.Command(name, "bench", "-q", "short.yaml", "--out", "flown").Run())
			}
			cmd := exec.Command(name, args...)
			in, err := cmd.StdinPipe() // stays open
			require.NoError(t, err)
			defer in.Close()
			out, err := cmd.StdoutPipe() // which nobody reads
			require.NoError(t, err)
			defer out.Close()
			ended := make(chan error, 1)
			require.NoError(t, cmd.Start())
			go func() { ended <- cmd.Wait() }()
			select {
			case err := <-ended:
				require.Fail(t, "it ended by itself", "%v", err)
			case <-time.After(700 * time.Millisecond):
			}
			sig := []os.Signal{syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP}[i%3]
			began := time.Now()
			require.NoError(t, cmd.Process.Signal(sig))
			select {
			case err = <-ended:
			case <-time.After(10 * time.Second):
				_ = cmd.Process.Kill()
				require.Fail(t, "deaf", "%v", sig)
			}
			t.Logf("ended %v after %v", time.Since(began).Round(time.Millisecond), sig)
			var left *exec.ExitError
			require.ErrorAs(t, err, &left)
			assert.NotZero(t, left.ExitCode()) // a quick machine may have found by then that the log is nonsense
			for _, half := range []string{"page.html", "truth.csv"} {
				assert.NoFileExists(t, half)
			}
			rest, err := filepath.Glob(".drystage-*")
			require.NoError(t, err)
			assert.Empty(t, rest)
		})
	}
}
