package scenario

import (
	"io/fs"
	"path"
	"strings"

	"drystage/harness"
)

// LoadProject reads a project's file, and the rig that it names. Any problem means that there is none; all come at once.
func LoadProject(fsys fs.FS, name string) (harness.Project, []harness.Problem) {
	l := &loader{fsys: fsys}
	name = path.Clean(name)
	p := l.project(l.read(name, harness.Place{}))
	if len(l.problems) > 0 {
		return harness.Project{}, l.sorted()
	}
	p.File, p.Digest = name, l.digest()
	return p, nil
}

// project reads a project's file.
func (l *loader) project(f *file) (p harness.Project) {
	n := l.ofKind(f, "project")
	if n == nil {
		return p
	}
	if base := path.Base(f.name); base != ProjectFile {
		l.report(harness.Problem{Place: n.items[0].at, Found: "a project in a file called " + quote(base), Wanted: "the name " + ProjectFile, Hint: "no other file is found"})
	}
	o, _ := projectTable.read(l, n).(*object)
	o.fill(&p)
	p.Boards, p.NMEA = addressesIn(o.get("boards")), addressesIn(o.get("nmea"))
	here := path.Dir(f.name)
	if p.Scenarios == nil {
		p.Scenarios = []string{"."}
	}
	for i, s := range p.Scenarios {
		p.Scenarios[i] = path.Join(here, s)
	}
	for _, v := range o.get("scenarios").list() {
		if _, err := fs.Stat(l.fsys, path.Join(here, v.text())); v.ok() && err != nil {
			l.report(harness.Problem{Place: v.at, Found: v.text() + ": " + cause(err).Error(), Wanted: "a scenario's file or a folder of them"})
		}
	}
	if rig := o.get("rig"); rig.ok() {
		p.Rig, p.RigPlace = path.Join(here, p.Rig), rig.at
		l.rig(l.read(p.Rig, rig.at))
	}
	if p.Records != "" {
		p.Records = path.Join(here, p.Records)
	}
	if p.Page != "" {
		p.Page = path.Join(here, p.Page)
	}
	return p
}

func addressesIn(v value) (list []harness.ProjectAddress) {
	for _, e := range v.entries() {
		list = append(list, harness.ProjectAddress{Role: e.name, Address: e.val.text(), Place: e.val.at})
	}
	return list
}

// ownPath is the path of something in the file's own folder or below it.
type ownPath struct{ ext string } // the name ends so; empty: as it likes

func (s ownPath) want() string {
	if s.ext != "" {
		return "a file " + s.ext + " in this folder or below it"
	}
	return "a path in this folder or below it"
}

func (s ownPath) schema() map[string]any {
	return pattern(`^[^/\\:][^\\:]*` + strings.ReplaceAll(s.ext, ".", `\.`) + `$|^\.$`)
}

func (s ownPath) read(l *loader, n *node) any {
	if !l.isScalar(n, s.want()) {
		return nil
	}
	clean := path.Clean(n.text)
	if n.text == "" || path.IsAbs(clean) || strings.ContainsAny(clean, "\\:") || clean == ".." || strings.HasPrefix(clean, "../") || !strings.HasSuffix(clean, s.ext) {
		l.report(harness.Problem{Place: n.at, Found: quote(n.text), Wanted: s.want(), Hint: "write folders with /; what lies elsewhere is named on the command line"})
		return nil
	}
	return clean
}

// projectAddress is where a board, or its receiver's input, is.
type projectAddress struct{ kinds []string }

func (s projectAddress) want() string {
	var forms []string
	for _, k := range s.kinds {
		forms = append(forms, map[string]string{"mock": "mock, mock:DEFECT", "exec": "exec:PROGRAM ARGS", "serial": "serial:PORT?baud=N", "unix": "unix:PATH", "tcp": "tcp:HOST:PORT", "avr": "avr:FIRMWARE.elf?wiring=FILE"}[k])
	}
	return choices(forms)
}

func (s projectAddress) schema() map[string]any {
	return pattern("^(" + strings.Join(s.kinds, "|") + ")(:.*)?$")
}

func (s projectAddress) read(l *loader, n *node) any {
	if !l.isScalar(n, s.want()) {
		return nil
	}
	kind, rest, _ := strings.Cut(n.text, ":")
	known := false
	for _, k := range s.kinds {
		known = known || k == kind
	}
	if !known || kind != "mock" && strings.TrimSpace(rest) == "" || strings.IndexFunc(n.text, unsafeInLine) >= 0 {
		l.report(harness.Problem{Place: n.at, Found: quote(n.text), Wanted: s.want(), Hint: nearest(kind, s.kinds)})
		return nil
	}
	return n.text
}
