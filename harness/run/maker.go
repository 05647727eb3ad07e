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

// Maker says what makes the records of this binary. Built from a clean checkout it is the commit; else, as by go run,
// nothing but the program's own bytes tells two builds apart.
var Maker = sync.OnceValue(func() harness.Maker {
	m := harness.Maker{Go: runtime.Version(), Arch: runtime.GOOS + "/" + runtime.GOARCH}
	clean := true
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, s := range info.Settings {
			switch s.Key {
			case "vcs.revision":
				m.Version = s.Value[:min(12, len(s.Value))]
			case "vcs.modified":
				clean = s.Value == "false"
			}
		}
	}
	if m.Version == "" || !clean {
		if m.Version == "" {
			m.Version = "devel"
		}
		m.Version += "+" + ownSum()
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
