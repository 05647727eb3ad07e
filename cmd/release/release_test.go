package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"testing"
	"time"

	cdx "github.com/CycloneDX/cyclonedx-go"
	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// tool runs a program that isn't ours, or leaves the test out where it is missing and may be.
func tool(t *testing.T, dir, name string, args ...string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil && os.Getenv("DRYSTAGE_TOOLS") != "all" {
		t.Skipf("no %s on this machine", name)
	}
	require.NoError(t, err)
	c := exec.Command(path, args...)
	c.Dir = dir
	out, err := c.CombinedOutput()
	require.NoError(t, err, "%s %v: %s", name, args, out)
	return string(out)
}

// One platform made twice is the same, byte for byte; tar, sha256sum and dpkg can read it; what is unpacked runs.
func TestReleaseIsReproducible(t *testing.T) {
	if runtime.GOOS != "linux" || runtime.GOARCH != "amd64" {
		t.Skip("what is unpacked must run here")
	}
	t.Chdir("../..")
	t.Setenv("SOURCE_DATE_EPOCH", "1767225600")
	version := told(t)
	first, second := t.TempDir(), t.TempDir()
	require.NoError(t, makeRelease(first, "linux/amd64"))
	require.NoError(t, makeRelease(second, "linux/amd64"))
	base := "drystage_" + version + "_linux_amd64"
	deb := "drystage_" + version + "_amd64.deb"
	for _, name := range []string{base + ".tar.gz", base + ".cdx.json", deb, "SHA256SUMS"} {
		a, err := os.ReadFile(filepath.Join(first, name))
		require.NoError(t, err)
		b, err := os.ReadFile(filepath.Join(second, name))
		require.NoError(t, err)
		assert.True(t, bytes.Equal(a, b), "%s differs", name)
		assert.False(t, bytes.Contains(a, []byte(first)), name)
	}
	tool(t, first, "sha256sum", "-c", "--strict", "SHA256SUMS")

	tool(t, first, "tar", "-xzf", base+".tar.gz")
	said := tool(t, first, filepath.Join(first, base, "drystage"), "--version")
	commit := "devel."
	if out, err := exec.Command("git", "rev-parse", "HEAD").Output(); err == nil {
		commit = string(out[:12])
	}
	assert.Contains(t, said, "drystage "+version+"+"+commit)
	for _, name := range []string{"README.md", "CHANGELOG.md", "LICENSE", "drystage.1", "THIRD-PARTY.txt"} {
		assert.FileExists(t, filepath.Join(first, base, name))
	}
	modules := tool(t, first, "go", "version", "-m", filepath.Join(first, base, "drystage"))
	bomFits(t, filepath.Join(first, base+".cdx.json"), modules)

	info := tool(t, first, "dpkg-deb", "--info", deb)
	assert.Contains(t, info, "Version: "+version)
	assert.Contains(t, info, "Architecture: amd64")
	for line := range strings.Lines(tool(t, first, "dpkg-deb", "--contents", deb)) {
		assert.Regexp(t, `^(drwxr-xr-x|-rwxr-xr-x|-rw-r--r--) root/root +\d+ 2026-01-01 00:00 \./`, line)
	}
	root := filepath.Join(first, "root")
	tool(t, first, "dpkg-deb", "-x", deb, root)
	said = tool(t, t.TempDir(), filepath.Join(root, "usr/bin/drystage"), "bench", "-q", "scenarios/nominal.yaml")
	assert.Contains(t, said, "1 scenario: 1 passed")
	shellsComplete(t, root)
}

// told is the version of which the newest chapter of CHANGELOG.md tells.
func told(t *testing.T) string {
	text, err := os.ReadFile("CHANGELOG.md")
	require.NoError(t, err)
	m := regexp.MustCompile(`(?m)^## ([0-9.]+)`).FindSubmatch(text)
	require.NotNil(t, m)
	return string(m[1])
}

// shellsComplete has each shell check and load the file that the package has for it, and complete a command with it. Only
// the program's place in it is changed, since the package is unpacked below a folder.
func shellsComplete(t *testing.T, root string) {
	for _, s := range []struct{ file, setUp string }{
		{"usr/share/bash-completion/completions/drystage", "source %s"},
		{"usr/share/zsh/vendor-completions/_drystage", "fpath=(${:-%s}(:h) $fpath); autoload -Uz compinit; compinit -u -D"},
		{"usr/share/fish/vendor_completions.d/drystage.fish", ""},
	} {
		name, shell := filepath.Join(root, s.file), strings.Split(s.file, "/")[2]
		shell = strings.TrimSuffix(shell, "-completion")
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		assert.Contains(t, string(text), "/usr/bin/drystage", shell)
		assert.NotContains(t, string(text), "/tmp/", shell)
		require.NoError(t, os.WriteFile(name, bytes.ReplaceAll(text, []byte("/usr/bin/"), []byte(root+"/usr/bin/")), 0o644))
		tool(t, root, shell, "-n", name)
		if shell == "fish" {
			assert.Contains(t, tool(t, root, shell, "--no-config", "-c", "source "+name+`; complete -C "drystage swe"`), "sweep")
			continue
		}
		typed(t, exec.Command(shell, map[string][]string{"bash": {"--noprofile", "--norc", "-i"}, "zsh": {"-f", "-i"}}[shell]...), strings.ReplaceAll(s.setUp, "%s", name))
	}
}

// typed starts a shell on a terminal, sets it up, types half of a command and a tab, and wants the whole word. The tab
// is typed again while nothing comes: a shell that makes its next line ready throws away what was typed before.
func typed(t *testing.T, shell *exec.Cmd, setUp string) {
	shell.Dir = t.TempDir()
	terminal, err := pty.Start(shell)
	require.NoError(t, err)
	defer func() {
		_ = shell.Process.Kill()
		_ = shell.Wait() // killed
		require.NoError(t, terminal.Close())
	}()
	_, err = terminal.WriteString(setUp + "\n")
	require.NoError(t, err)
	var seen []byte
	buffer := make([]byte, 4096)
	for range 20 {
		_, err = terminal.WriteString("\x15drystage swe\t") // Ctrl-U first: the line is empty
		require.NoError(t, err)
		require.NoError(t, terminal.SetReadDeadline(time.Now().Add(time.Second)))
		for err == nil {
			var n int
			n, err = terminal.Read(buffer)
			seen = append(seen, buffer[:n]...)
			if bytes.Contains(seen, []byte("drystage sweep")) {
				return
			}
		}
		require.ErrorIs(t, err, os.ErrDeadlineExceeded, "%s", seen)
	}
	t.Errorf("%s completes nothing in 20 s: %q", shell.Path, seen)
}

// bomFits holds a list of contents against what the go command says of the binary.
func bomFits(t *testing.T, name, modules string) {
	f, err := os.Open(name)
	require.NoError(t, err)
	defer f.Close()
	var bom cdx.BOM
	require.NoError(t, cdx.NewBOMDecoder(f, cdx.BOMFileFormatJSON).Decode(&bom))
	assert.Equal(t, "drystage", bom.Metadata.Component.Name)
	listed := map[string]bool{}
	for _, c := range *bom.Components {
		listed[c.Name+" "+c.Version] = true
	}
	deps := 0
	for line := range strings.Lines(modules) {
		if f := strings.Fields(line); len(f) >= 3 && f[0] == "dep" {
			deps++
			assert.True(t, listed[f[1]+" "+f[2]], line)
		}
	}
	assert.Greater(t, deps, 5)
	assert.Len(t, listed, deps+1, "and the standard library")
}

func TestWrongPlatform(t *testing.T) {
	t.Chdir("../..")
	t.Setenv("SOURCE_DATE_EPOCH", "soon")
	assert.ErrorContains(t, makeRelease(t.TempDir(), "linux/amd64"), `SOURCE_DATE_EPOCH: found "soon"`)
}
