package main

import (
	"bytes"
	"debug/buildinfo"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"
	"time"

	cdx "github.com/CycloneDX/cyclonedx-go"
)

// binaryContents is what a binary says that it was built from.
type binaryContents struct{ *debug.BuildInfo }

func contents(binary string) (binaryContents, error) {
	info, err := buildinfo.ReadFile(binary)
	return binaryContents{info}, err
}

// module is one that is in the binary, or what takes its place.
func module(m *debug.Module) *debug.Module {
	if m.Replace != nil {
		return m.Replace
	}
	return m
}

// sbom lists all modules as CycloneDX JSON, with the digests of go.sum, and the Go version as the standard library's.
func (c binaryContents) sbom(version string, when time.Time) ([]byte, error) {
	purl := func(name, version string) string { return "pkg:golang/" + name + "@" + version }
	main := cdx.Component{BOMRef: purl("drystage", version), Type: cdx.ComponentTypeApplication, Name: "drystage", Version: version, PackageURL: purl("drystage", version)}
	for _, s := range c.Settings {
		if s.Key == "vcs.revision" || s.Key == "GOOS" || s.Key == "GOARCH" {
			main.Properties = properties(main.Properties, s.Key, s.Value)
		}
	}
	list := []cdx.Component{{BOMRef: purl("std", c.GoVersion), Type: cdx.ComponentTypeLibrary, Name: "std", Version: c.GoVersion, PackageURL: purl("std", strings.TrimPrefix(c.GoVersion, "go"))}}
	needs := []string{list[0].BOMRef}
	for _, d := range c.Deps {
		m := module(d)
		x := cdx.Component{BOMRef: purl(m.Path, m.Version), Type: cdx.ComponentTypeLibrary, Name: m.Path, Version: m.Version, PackageURL: purl(m.Path, m.Version)}
		x.Properties = properties(nil, "go.sum", m.Sum)
		list, needs = append(list, x), append(needs, x.BOMRef)
	}
	bom := cdx.NewBOM()
	bom.Metadata = &cdx.Metadata{Timestamp: when.Format(time.RFC3339), Component: &main}
	bom.Components = &list
	bom.Dependencies = &[]cdx.Dependency{{Ref: main.BOMRef, Dependencies: &needs}}
	var b bytes.Buffer
	err := cdx.NewBOMEncoder(&b, cdx.BOMFileFormatJSON).SetPretty(true).Encode(bom)
	return b.Bytes(), err
}

func properties(to *[]cdx.Property, name, value string) *[]cdx.Property {
	if value == "" {
		return to
	}
	if to == nil {
		to = &[]cdx.Property{}
	}
	*to = append(*to, cdx.Property{Name: name, Value: value})
	return to
}

// licences joins the licences of all modules in the binary, which their authors want to be passed on.
func (c binaryContents) licences() ([]byte, error) {
	var b bytes.Buffer
	fmt.Fprintf(&b, "drystage contains these modules, and the standard library of %s, under their own licences.\n", c.GoVersion)
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		return nil, err
	}
	if err := appendLicence(&b, "The Go standard library", strings.TrimSpace(string(root))); err != nil {
		return nil, err
	}
	for _, d := range c.Deps {
		m := module(d)
		dir, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", m.Path).Output()
		if err != nil {
			return nil, fmt.Errorf("go list -m %s: %w", m.Path, err)
		}
		if err := appendLicence(&b, m.Path+" "+m.Version, strings.TrimSpace(string(dir))); err != nil {
			return nil, err
		}
	}
	return b.Bytes(), nil
}

// appendLicence adds every file of a folder that is called as licences are. A module without one can't be passed on.
func appendLicence(b *bytes.Buffer, what, dir string) error {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	found := 0
	for _, e := range entries {
		upper := strings.ToUpper(e.Name())
		if e.IsDir() || !slices.ContainsFunc([]string{"LICENSE", "LICENCE", "COPYING", "NOTICE", "PATENTS"}, func(w string) bool { return strings.HasPrefix(upper, w) }) {
			continue
		}
		text, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			return err
		}
		found++
		fmt.Fprintf(b, "\n%s\n%s, %s\n\n%s\n", strings.Repeat("=", 78), what, e.Name(), bytes.TrimSpace(bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n"))))
	}
	if found == 0 {
		return fmt.Errorf("%s has no licence in %s", what, filepath.Base(dir))
	}
	return nil
}
