package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	cdx "github.com/CycloneDX/cyclonedx-go"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/run"
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
	first, second := t.TempDir(), t.TempDir()
	require.NoError(t, makeRelease(first, "linux/amd64"))
	require.NoError(t, makeRelease(second, "linux/amd64"))
	base := "drystage_" + run.Release + "_linux_amd64"
	deb := "drystage_" + run.Release + "_amd64.deb"
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
	assert.Contains(t, said, "drystage "+run.Release+"+")
	for _, name := range []string{"README.md", "CHANGELOG.md", "LICENSE", "drystage.1", "THIRD-PARTY.txt"} {
		assert.FileExists(t, filepath.Join(first, base, name))
	}
	modules := tool(t, first, "go", "version", "-m", filepath.Join(first, base, "drystage"))
	bomFits(t, filepath.Join(first, base+".cdx.json"), modules)

	info := tool(t, first, "dpkg-deb", "--info", deb)
	assert.Contains(t, info, "Version: "+run.Release)
	assert.Contains(t, info, "Architecture: amd64")
	root := filepath.Join(first, "root")
	tool(t, first, "dpkg-deb", "-x", deb, root)
	said = tool(t, t.TempDir(), filepath.Join(root, "usr/bin/drystage"), "bench", "-q", "scenarios/nominal.yaml")
	assert.Contains(t, said, "1 scenario: 1 passed")
	completion, err := os.ReadFile(filepath.Join(root, "usr/share/bash-completion/completions/drystage"))
	require.NoError(t, err)
	assert.Contains(t, string(completion), "/usr/bin/drystage")
	assert.NotContains(t, string(completion), "/tmp/")
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
