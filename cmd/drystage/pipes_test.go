//go:build unix

package main

import (
	"os"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Something that is called like a file and is none is refused by every command that reads files, wherever it
// is named, at once: nobody ever writes to these pipes.
func TestPipesCalledLikeFilesHoldNothingUp(t *testing.T) {
	shortSuite(t)
	write := func(name, text string) { require.NoError(t, os.WriteFile(name, []byte(text), 0o644)) }
	for _, name := range []string{"pipe", "pipe.yaml", "pipe.csv", "good.measured.json", "folder/pipe.yaml", "folder/pipe.csv", "folder/pipe.record"} {
		require.NoError(t, os.MkdirAll("folder", 0o755))
		require.NoError(t, syscall.Mkfifo(name, 0o644))
	}
	write("like.yaml", "drystage: scenario\nlike: pipe.yaml\n")
	write("board.yaml", "drystage: scenario\nlike: short.yaml\nboards: {sustainer: {file: pipe.yaml}}\n")
	write("motor.yaml", "drystage: scenario\nlike: short.yaml\nvehicle: pipe.yaml\n")
	write("log.yaml", "drystage: scenario\nlike: short.yaml\nlog: {file: pipe.csv}\n")
	write("log.csv", "time_s,height_m\n0,1\n1,2\n2,3\n3,4\n")
	good, err := os.ReadFile("scenarios/rigs/simulated.yaml")
	require.NoError(t, err)
	write("good.yaml", string(good))
	for _, args := range []string{
		"lint pipe.yaml", "lint pipe", "lint pipe.csv", "lint folder", "lint like.yaml", "lint log.yaml", "lint /dev/zero",
		"bench pipe.yaml", "bench folder", "bench like.yaml", "bench board.yaml", "bench motor.yaml", "bench log.yaml",
		"bench short.yaml --rig pipe.yaml", "bench short.yaml --rig good.yaml", "rig pipe.yaml", "rig good.yaml", "rig good.yaml --measure",
		"contract --rig pipe.yaml", "contract --rig good.yaml --role sustainer --scenario pipe.yaml",
		"sweep pipe.yaml", "hunt pipe.yaml", "defects pipe.yaml", "fly pipe.yaml",
		"show pipe", "show pipe --injected", "show /dev/zero", "ready pipe", "ready folder", "ready /dev/null --suite pipe.yaml",
		"examine pipe", "examine pipe.csv", "examine log.csv --mapping pipe.yaml", "examine log.csv --vehicle pipe.yaml", "examine pipe.csv --propose-mapping new.yaml",
		"replay pipe", "replay pipe.yaml", "replay log.csv --mapping pipe", "replay log.csv --scenario pipe.yaml",
	} {
		done := make(chan struct{})
		go func() {
			defer close(done)
			code, _, errs := command(t, strings.Fields(args)...)
			assert.Contains(t, []int{misused, unsure}, code, "%s: %s", args, errs)
		}()
		select {
		case <-done:
		case <-time.After(20 * time.Second):
			require.Fail(t, "it waits for ever", args)
		}
	}
}
