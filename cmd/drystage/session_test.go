package main

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/require"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"drystage": func() {
			main()
		},
	})
}

// TestSession plays each page of testdata/session as a person would type it. One page alone:
//
//	go test ./cmd/drystage -run TestSession/bench_record
func TestSession(t *testing.T) {
	slow(t)
	play(t, "testdata/session")
}

// TestWallSession plays the pages that go by the clock on the wall.
func TestWallSession(t *testing.T) { play(t, "testdata/session/wall") }

func play(t *testing.T, dir string) {
	pages, err := filepath.Glob(filepath.Join(dir, "*.txtar"))
	require.NoError(t, err)
	require.NotEmpty(t, pages)
	testscript.Run(t, testscript.Params{
		Dir:                 dir,
		UpdateScripts:       os.Getenv("UPDATE_SESSIONS") != "",
		RequireExplicitExec: true,
		Setup: func(e *testscript.Env) error {
			top, err := filepath.Abs(root)
			e.Setenv("WRONG", filepath.Join(top, "harness/files/scenario/testdata/wrong"))
			e.Setenv("SHIPPED", filepath.Join(top, "scenarios"))
			return err
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"status": wantStatus},
	})
}

// wantStatus runs a command and wants its exit status: status N COMMAND ARGS...
func wantStatus(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: status N command args...")
	}
	got := 0
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		var left *exec.ExitError
		if !errors.As(err, &left) {
			ts.Fatalf("%v", err)
		}
		got = left.ExitCode()
	}
	if fmt.Sprint(got) != args[0] {
		ts.Fatalf("exit status %d, wanted %s", got, args[0])
	}
}
