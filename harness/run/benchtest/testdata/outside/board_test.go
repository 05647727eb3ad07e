package rocket

import (
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"drystage/harness/run/benchtest"
	"drystage/scenarios"
)

// options are for our firmware on a busy computer.
func options(t *testing.T) benchtest.Options {
	program := filepath.Join(t.TempDir(), "firmware")
	if out, err := exec.Command("go", "build", "-o", program, "./firmware").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	command := "exec:" + program
	if defect := os.Getenv("DEFECT"); defect != "" {
		command += " " + defect
	}
	return benchtest.Options{Board: []string{command}, AnswerLimit: 5 * time.Second, Timeout: 5 * time.Second, TimeLimit: 5 * time.Minute}
}

// One scenario, with a seed of ours and another height for the main.
func TestMain150(t *testing.T) {
	opt := options(t)
	seed := uint64(7)
	opt.Seed = &seed
	opt.Settings = map[string]float64{"sustainer.main_height": 150}
	benchtest.Fly(t, "scenarios/nominal.yaml", opt)
}

// A folder of scenarios, each a subtest. Ours refer to the shipped vehicles and boards.
func TestSuite(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{"vehicles", "motors", "boards"} {
		part, err := fs.Sub(scenarios.Files, name)
		if err == nil {
			err = os.CopyFS(filepath.Join(dir, name), part)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	ours, err := filepath.Glob("flights/*.yaml")
	if err != nil || len(ours) == 0 {
		t.Fatal(err, ours)
	}
	for _, name := range ours {
		text, err := os.ReadFile(name)
		if err == nil {
			err = os.WriteFile(filepath.Join(dir, filepath.Base(name)), text, 0o644)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	benchtest.Suite(t, dir, options(t))
}
