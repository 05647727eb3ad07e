package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/santhosh-tekuri/jsonschema/v6"
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
	if i := slices.Index(args, "json"); i > 0 && args[i-1] == "--format" && got != misused {
		if err := followsSchema(args[2], ts.ReadFile("stdout")); err != nil {
			ts.Fatalf("what %s printed is not as its schema says: %v", args[2], err)
		}
	}
}

// followsSchema holds what a command printed against its JSON Schema, by an implementation that isn't ours.
func followsSchema(command, printed string) error {
	text, ok := outputSchema(command)
	if !ok {
		return errors.New("it has no schema")
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		return err
	}
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	if err := c.AddResource("x.json", doc); err != nil {
		return err
	}
	s, err := c.Compile("x.json")
	if err != nil {
		return err
	}
	v, err := jsonschema.UnmarshalJSON(strings.NewReader(printed))
	if err != nil {
		return err
	}
	return s.Validate(v)
}
