//go:build linux

package main

import (
	"net"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// TestReadmesManyMachines plays the commands of README.md for several computers, on this one: its server, workers, a bench
// with a program as its board in place of a serial port and a rig, and fewer flights.
func TestReadmesManyMachines(t *testing.T) {
	slow(t)
	text, err := os.ReadFile(root + "/README.md")
	require.NoError(t, err)
	_, section, found := strings.Cut(string(text), "\n## Many machines\n")
	require.True(t, found)
	section, _, _ = strings.Cut(section, "\n## ")
	dir := t.TempDir()
	bin := program(t, dir)
	shortSuite(t)
	require.NoError(t, os.Mkdir("flights", 0o755))
	require.NoError(t, os.WriteFile("flights/short.yaml", []byte(strings.Replace(shortScenario, "like: ", "like: ../", 1)), 0o644))
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	address := l.Addr().String()
	require.NoError(t, l.Close())
	_, port, _ := net.SplitHostPort(address)
	here := strings.NewReplacer("-sd /var/lib/drystage", "-sd "+dir+"/store -a 127.0.0.1 -p "+port, "shed:4222", address,
		"scenarios/launch-day.yaml --flights 100000", "short.yaml --flights 40 --quiet", "--rig rig.yaml ", "")
	var lines []string
	for _, block := range regexp.MustCompile("(?s)```sh\n(.*?)```").FindAllStringSubmatch(section, -1) {
		for line := range strings.Lines(block[1]) {
			line, _, _ = strings.Cut(line, "#")
			lines = append(lines, here.Replace(strings.TrimSpace(line)))
		}
	}
	require.Len(t, lines, 6)
	command := func(line string) *exec.Cmd {
		words := strings.Fields(line)
		for i, w := range words {
			words[i] = strings.ReplaceAll(w, "serial:/dev/ttyUSB0", "exec:"+bin+" play")
		}
		if words[0] == "drystage" {
			words[0] = bin
		}
		return exec.Command(words[0], words[1:]...)
	}
	start := func(line string) {
		c := command(line)
		require.NoError(t, c.Start())
		t.Cleanup(func() { _ = c.Process.Kill(); _ = c.Wait() })
	}
	until := func(say string, ok func() bool) { require.Eventually(t, ok, time.Minute, 50*time.Millisecond, say) }
	require.True(t, strings.HasPrefix(lines[0], "nats-server -js "), lines[0])
	start(lines[0])
	until("the server listens", func() bool {
		c, err := net.Dial("tcp", address)
		if err == nil {
			c.Close()
		}
		return err == nil
	})
	start(lines[1])
	far, err := command(lines[2]).Output()
	require.NoError(t, err)
	near, err := exec.Command(bin, "sweep", "short.yaml", "--flights", "40", "--quiet").Output()
	require.NoError(t, err)
	require.Equal(t, string(near), string(far), "what is printed is the same to the bit as without a queue")
	start(lines[3])
	until("the bench is listed", func() bool {
		out, err := command(lines[4]).Output()
		return err == nil && strings.Contains(string(out), "bench:rev2  exec:")
	})
	out, err := command(lines[5]).CombinedOutput()
	require.NoError(t, err, string(out))
	require.Contains(t, string(out), "1 passed, 0 failed, 0 unsure")
	require.FileExists(t, "flown/short.record")
	until("the bench tells of its board", func() bool {
		out, err := command(lines[4]).Output()
		return err == nil && regexp.MustCompile(`(?m)^ +firmware +drystage [0-9a-f]{16}, sustainer calls itself drystage mock.*$`).Match(out) && strings.Contains(string(out), "inert ")
	})
	// One flight of a sweep again, on the bench: the flight that the line to repeat it means, which names the queue.
	require.NoError(t, os.WriteFile("fails.yaml", []byte("drystage: scenario\nlike: short.yaml\nexpect: [{happens: apogee}]\n"), 0o644))
	only := "sweep fails.yaml --seed 7 --only 3 --board 'bench:rev2' --answer-limit 20s --queue 'nats://" + address + "'"
	out, _ = command("drystage " + strings.ReplaceAll(only, "'", "") + " --quiet").Output()
	local, _ := exec.Command(bin, "sweep", "fails.yaml", "--seed", "7", "--only", "3", "--quiet").Output()
	flight, _, found := strings.Cut(string(local), "\nsustainer ")
	require.True(t, found, string(local))
	require.Contains(t, string(out), flight)
	require.Contains(t, string(out), "  repeat: drystage "+only+"\n")
}
