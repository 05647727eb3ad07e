package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// action is as much of action.yml as a runner of jobs goes by.
type action struct {
	Inputs  map[string]struct{ Default string }
	Outputs map[string]struct{ Value string }
	Runs    struct {
		Using string
		Steps []struct {
			ID, Shell, Run string
			Folder         string `yaml:"working-directory"`
			Env            map[string]string
		}
	}
}

// builder stands for the Go that the first step builds drystage with: the program is there already.
const builder = `#!/bin/sh
[ "$*" = "build -trimpath -o $RUNNER_TEMP/drystage/ ./cmd/drystage" ] && [ -d cmd/drystage ] && exec cp "$PROGRAM" "$RUNNER_TEMP/drystage/"
`

// runAction runs the steps of action.yml in a checkout as a runner does: each by its shell, with the expressions of its
// keys replaced, until one fails. It gives what they printed, their outputs, the summary and the last exit status.
func runAction(t *testing.T, checkout string, inputs map[string]string) (printed, outputs, summary string, code int) {
	text, err := os.ReadFile(filepath.Join(root, "action.yml"))
	require.NoError(t, err)
	var a action
	require.NoError(t, yaml.Unmarshal(text, &a))
	require.Equal(t, "composite", a.Runs.Using)
	require.Equal(t, "${{ steps.fly.outputs.status }}", a.Outputs["status"].Value)
	top, err := filepath.Abs(root)
	require.NoError(t, err)
	words := []string{"${{ github.action_path }}", top}
	for name, in := range a.Inputs {
		value, is := inputs[name]
		if !is {
			value = in.Default
		}
		words = append(words, "${{ inputs."+name+" }}", value)
	}
	said := strings.NewReplacer(words...).Replace
	temp, tools := t.TempDir(), t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(tools, "go"), []byte(builder), 0o755))
	env := append(os.Environ(), "RUNNER_TEMP="+temp, "PROGRAM="+program(t, tools), "PATH="+tools+":"+os.Getenv("PATH"), "XDG_CONFIG_HOME="+temp,
		"GITHUB_OUTPUT="+filepath.Join(temp, "outputs"), "GITHUB_STEP_SUMMARY="+filepath.Join(temp, "summary"))
	for _, step := range a.Runs.Steps {
		require.Equal(t, "bash", step.Shell)
		require.NotContains(t, step.Run, "${{", "what a stranger may have written is no part of a script")
		script := filepath.Join(temp, "step.sh")
		require.NoError(t, os.WriteFile(script, []byte(step.Run), 0o644))
		c := exec.Command("bash", "--noprofile", "--norc", "-eo", "pipefail", script)
		c.Dir, c.Env = filepath.Join(checkout, said(step.Folder)), env
		for k, v := range step.Env {
			c.Env = append(c.Env, k+"="+said(v))
		}
		out, _ := c.CombinedOutput()
		printed += string(out)
		if code = c.ProcessState.ExitCode(); code != 0 {
			break
		}
	}
	read := func(name string) string {
		b, _ := os.ReadFile(filepath.Join(temp, name))
		return string(b)
	}
	return printed, read("outputs"), read("summary"), code
}

// TestAction runs the composite action: what passes, what fails and a wrong file, each with its status, summary and marks, whose
// paths are those of the checkout.
func TestAction(t *testing.T) {
	slow(t)
	folder(t, map[string]string{
		"rocket/short.yaml":   "drystage: scenario\n" + shortFlight,
		"strict/short.yaml":   "drystage: scenario\n" + strings.Replace(shortFlight, "never: sustainer.main", "happens: apogee", 1),
		"mistaken/short.yaml": "drystage: scenario\n" + strings.Replace(shortFlight, "sustainer.main", "sustainer.mian", 1),
	})
	for _, dir := range []string{"rocket", "strict", "mistaken"} {
		for _, of := range []string{"vehicles", "motors", "boards"} {
			require.NoError(t, os.CopyFS(filepath.Join(dir, of), os.DirFS(shippedRoot+"/"+of)))
		}
	}
	here, err := os.Getwd()
	require.NoError(t, err)
	t.Chdir(filepath.Join(shippedRoot, "../cmd/drystage")) // where the action is

	printed, outputs, summary, code := runAction(t, here, map[string]string{"folder": "rocket"})
	assert.Equal(t, passed, code, printed)
	assert.Equal(t, "status=0\n", outputs)
	assert.Contains(t, summary, "## drystage: pass\n")
	assert.NotContains(t, printed, "::error")

	printed, outputs, summary, code = runAction(t, here, map[string]string{"folder": "strict", "board": "mock:ignores-tilt", "arguments": "--seed 3"})
	assert.NotEqual(t, passed, code, printed)
	assert.NotContains(t, outputs, "status=0")
	assert.NotContains(t, summary, "## drystage: pass\n")
	assert.Contains(t, printed, "mock:ignores-tilt")
	assert.Regexp(t, `(?m)^::(error|warning) file=strict/short.yaml,line=\d+,`, printed)

	printed, outputs, _, code = runAction(t, here, map[string]string{"folder": "mistaken/"})
	assert.Equal(t, misused, code, printed)
	assert.Equal(t, "status=2\n", outputs)
	assert.Regexp(t, `(?m)^::error file=mistaken/short.yaml,line=\d+,`, printed)
}
