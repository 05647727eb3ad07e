// Command release makes what people download: an archive for each platform, Debian packages, a list of what is in each
// (SBOM) and checksums. The same commit gives the same bytes: times come from SOURCE_DATE_EPOCH or the commit, paths of
// this machine are left out. It is a module of its own: what it needs to pack is no business of the program's builders.
package main

import (
	"bytes"
	"crypto/sha256"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"time"
)

// platform is one that people get a binary for.
type platform struct {
	os, arch string
	debian   string // the name of the processor there; empty: no package
}

func (p platform) name() string {
	if p.arch == "arm" {
		return p.os + "_armv6"
	}
	return p.os + "_" + p.arch
}

// platforms are all. Debian's armhf needs more than ARMv6, which Raspberry Pi OS calls by the same name.
var platforms = []platform{
	{"linux", "amd64", "amd64"}, {"linux", "arm64", "arm64"}, {"linux", "arm", "armhf"},
	{"darwin", "amd64", ""}, {"darwin", "arm64", ""}, {"windows", "amd64", ""},
}

// release is what goes into the archives.
type release struct {
	out     string
	version string
	dir     string    // of the binaries
	when    time.Time // of every file
	man     []byte
	shells  map[string][]byte // completions by the shell
	docs    []entry           // README, LICENSE and so on
}

// entry is a file in an archive.
type entry struct {
	name string
	mode int64
	data []byte
}

func main() {
	checkout := flag.String("checkout", "../..", "the folder of the checkout, for commands that run in this one")
	out := flag.String("out", "dist", "the folder to write to, below the checkout; what is in it of other releases stays")
	only := flag.String("only", "", "one platform, such as linux/amd64")
	flag.Parse()
	err := os.Chdir(*checkout)
	if err == nil {
		err = makeRelease(*out, *only)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "release:", err)
		os.Exit(1)
	}
}

// makeRelease makes a release of one platform or of all, from the checkout that it is run in.
func makeRelease(out, only string) error {
	if err := os.MkdirAll(out, 0o755); err != nil {
		return err
	}
	dir, err := os.MkdirTemp("", "drystage-release-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	r, err := prepare(out, dir)
	if err != nil {
		return err
	}
	var made []string
	for _, p := range platforms {
		if only != "" && only != p.os+"/"+p.arch {
			continue
		}
		files, err := r.platform(p)
		if err != nil {
			return fmt.Errorf("%s: %w", p.name(), err)
		}
		made = append(made, files...)
	}
	if len(made) == 0 {
		return fmt.Errorf("found no platform %s", only)
	}
	return r.checksums(made)
}

// prepare gathers what is the same on all platforms.
func prepare(out, dir string) (*release, error) {
	when, err := commitTime()
	if err != nil {
		return nil, err
	}
	r := &release{out: out, dir: dir, when: when, shells: map[string][]byte{}}
	for _, name := range []string{"README.md", "CHANGELOG.md", "LICENSE"} {
		b, err := os.ReadFile(name)
		if err != nil {
			return nil, err
		}
		r.docs = append(r.docs, entry{name, 0o644, b})
	}
	own, err := r.build(platform{os: runtime.GOOS, arch: runtime.GOARCH})
	if err != nil {
		return nil, err
	}
	if r.man, err = exec.Command(own, "man").Output(); err != nil {
		return nil, fmt.Errorf("the manual page: %w", err)
	}
	for _, shell := range []string{"bash", "fish"} {
		text, err := exec.Command(own, "completion", "-c", shell).Output()
		if err != nil {
			return nil, fmt.Errorf("the completion of %s: %w", shell, err)
		}
		r.shells[shell] = bytes.ReplaceAll(text, []byte(own), []byte("/usr/bin/drystage"))
	}
	r.shells["zsh"] = []byte(zsh)
	said, err := exec.Command(own, "version").Output()
	if err != nil {
		return nil, fmt.Errorf("the version: %w", err)
	}
	version := regexp.MustCompile(`^drystage ([0-9]+\.[0-9]+\.[0-9]+)\+`).FindSubmatch(said)
	if version == nil {
		return nil, fmt.Errorf("the version: found %q, wanted drystage X.Y.Z+COMMIT", said)
	}
	r.version = string(version[1])
	return r, nil
}

// zsh is the file that zsh loads when the program's arguments are first completed, from a folder of its fpath. What the
// program prints for zsh is for a person's own .zshrc, and would do nothing yet on that first time.
const zsh = `#compdef drystage
autoload -U +X bashcompinit && bashcompinit
_bash_complete -o default -o bashdefault -C /usr/bin/drystage
`

// commitTime is the time that all files have.
func commitTime() (time.Time, error) {
	text := os.Getenv("SOURCE_DATE_EPOCH")
	if text == "" {
		b, err := exec.Command("git", "log", "-1", "--format=%ct").Output()
		if err != nil {
			return time.Time{}, fmt.Errorf("no SOURCE_DATE_EPOCH, and git doesn't tell the commit's time: %w", err)
		}
		text = strings.TrimSpace(string(b))
	}
	s, err := strconv.ParseInt(text, 10, 64)
	if err != nil {
		return time.Time{}, fmt.Errorf("SOURCE_DATE_EPOCH: found %q, wanted seconds since 1970", text)
	}
	return time.Unix(s, 0).UTC(), nil
}

// build builds the program for a platform, once, without paths of this machine.
func (r *release) build(p platform) (binary string, err error) {
	to := filepath.Join(r.dir, p.name())
	if _, err := os.Stat(to); err == nil {
		return to, nil
	}
	// The commit is told even where the user's own settings of the go command leave it out.
	c := exec.Command("go", "build", "-trimpath", "-buildvcs=auto", "-ldflags", "-s -w -buildid=", "-o", to, "./cmd/drystage")
	c.Env = append(os.Environ(), "GOOS="+p.os, "GOARCH="+p.arch, "GOARM=6", "CGO_ENABLED=0", "GOFLAGS=")
	if text, err := c.CombinedOutput(); err != nil {
		return "", fmt.Errorf("go build: %w\n%s", err, text)
	}
	return to, nil
}

// platform makes the files of one platform and gives their names.
func (r *release) platform(p platform) (made []string, err error) {
	binary, err := r.build(p)
	if err != nil {
		return nil, err
	}
	program, err := os.ReadFile(binary)
	if err != nil {
		return nil, err
	}
	list, err := contents(binary)
	if err != nil {
		return nil, err
	}
	licences, err := list.licences()
	if err != nil {
		return nil, err
	}
	base := "drystage_" + r.version + "_" + p.name()
	put := func(name string, data []byte, err error) error {
		if err != nil {
			return err
		}
		made = append(made, name)
		return os.WriteFile(filepath.Join(r.out, name), data, 0o644)
	}
	docs := append(slices.Clone(r.docs), entry{"THIRD-PARTY.txt", 0o644, licences})
	files := append([]entry{{"drystage", 0o755, program}, {"drystage.1", 0o644, r.man}}, docs...)
	if p.os == "windows" {
		files[0].name = "drystage.exe"
		data, err := r.zip(base, files)
		err = put(base+".zip", data, err)
		if err != nil {
			return nil, err
		}
	} else {
		data, err := r.tarGzip(base, files)
		if err = put(base+".tar.gz", data, err); err != nil {
			return nil, err
		}
	}
	sbom, err := list.sbom(r.version, r.when)
	if err = put(base+".cdx.json", sbom, err); err != nil {
		return nil, err
	}
	if p.debian != "" {
		data, err := r.debian(p.debian, program, docs)
		if err = put("drystage_"+r.version+"_"+p.debian+".deb", data, err); err != nil {
			return nil, err
		}
	}
	return made, nil
}

// checksums writes SHA256SUMS, as sha256sum -c reads it.
func (r *release) checksums(names []string) error {
	slices.Sort(names)
	var b strings.Builder
	for _, name := range names {
		data, err := os.ReadFile(filepath.Join(r.out, name))
		if err != nil {
			return err
		}
		fmt.Fprintf(&b, "%x  %s\n", sha256.Sum256(data), name)
		fmt.Printf("%s, %.1f MB\n", filepath.Join(r.out, name), float64(len(data))/1e6)
	}
	return os.WriteFile(filepath.Join(r.out, "SHA256SUMS"), []byte(b.String()), 0o644)
}
