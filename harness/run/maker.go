package run

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"
	"runtime"
	"runtime/debug"
	"sync"

	"drystage/harness"
)

// Release is the version that CHANGELOG.md tells of, as Semantic Versioning 2.0.0 has it.
const Release = "0.1.0"

// Maker says what makes the records of this binary: the release, and after a + its commit if it was built from a clean
// checkout. Else, as by go run, nothing but the program's own bytes tells two builds apart.
var Maker = sync.OnceValue(func() harness.Maker {
	m := harness.Maker{Go: runtime.Version(), Arch: runtime.GOOS + "/" + runtime.GOARCH}
	commit, clean := "devel", false
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, s := range info.Settings {
			switch s.Key {
			case "vcs.revision":
				commit = s.Value[:min(12, len(s.Value))]
			case "vcs.modified":
				clean = s.Value == "false"
			}
		}
	}
	m.Version = Release + "+" + commit
	if !clean {
		m.Version += "." + ownSum()
	}
	return m
})

// ownSum is the start of the SHA-256 of the program's own file, "unknown" where that can't be read.
func ownSum() string {
	name, err := os.Executable()
	if err != nil {
		return "unknown"
	}
	f, err := os.Open(name)
	if err != nil {
		return "unknown"
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "unknown"
	}
	return hex.EncodeToString(h.Sum(nil))[:12]
}
