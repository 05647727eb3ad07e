package main

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime/debug"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"

	"drystage/harness"
	"drystage/harness/disk"
	"drystage/harness/logs"
	"drystage/harness/logs/examine"
	"drystage/sim"
)

// openLog reads a log of any kind. Without a mapping, the one proposed is printed when it is used.
func openLog(d *desk, name, mapping, role string) (*logs.Log, error) {
	f, err := disk.Open(name)
	if err != nil {
		return nil, status{misused, err}
	}
	defer f.Close()
	if logs.Sniff(bufio.NewReader(f)) == logs.Record {
		rec, err := load(name)
		if err != nil {
			return nil, status{misused, err}
		}
		bay, err := boardIn(&rec, role)
		if err != nil {
			return nil, err
		}
		return logs.FromRecord(&rec, bay)
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return nil, status{misused, err}
	}
	m, err := openMapping(mapping)
	if err != nil {
		return nil, err
	}
	told, done := reading(d, f)
	defer done()
	if info, err := f.Stat(); err == nil && info.Size() > 32<<20 {
		debug.SetGCPercent(20) // the columns stay for good: little is gained by letting garbage grow to their size
	}
	l, err := logs.ReadText(f, harness.Printable(name), m, logs.Options{Told: told}, func(p *logs.Proposal) {
		sayf(d.err, "%s: read as\n%s", name, p.YAML())
	})
	if err != nil {
		return nil, status{misused, err}
	}
	for _, n := range l.Notes {
		fmt.Fprintln(d.err, n)
	}
	return l, nil
}

func openMapping(name string) (*logs.Mapping, error) {
	if name == "" {
		return nil, nil
	}
	b, err := disk.Read(name)
	if err != nil {
		return nil, status{misused, errorf("--mapping %s: %s, wanted a mapping file, as --propose-mapping FILE writes it", name, cause(err))}
	}
	m, err := logs.ReadMapping(b, filepath.ToSlash(name))
	if err != nil {
		return nil, status{misused, err}
	}
	return m, nil
}

// reading shows how far a large file is, on a terminal only.
func reading(d *desk, f *os.File) (told func(int64), done func()) {
	w, ok := fileOf(d.err)
	info, err := f.Stat()
	if !ok || err != nil || info.Size() < 8<<20 || !term.IsTerminal(int(w.Fd())) {
		return nil, func() {}
	}
	bar := progressbar.NewOptions64(info.Size(), progressbar.OptionSetWriter(w), progressbar.OptionSetWidth(30),
		progressbar.OptionShowBytes(true), progressbar.OptionSetDescription("reading"), progressbar.OptionClearOnFinish())
	return func(n int64) { bar.Set64(n) }, func() { bar.Finish() }
}

// played makes the source of a plan that plays a log, and sets the plan's bay to what the log has.
func played(p *harness.Plan) (func(*sim.Setup) sim.Source, error) {
	l, err := openLog(&desk{out: io.Discard, err: io.Discard}, p.Log.File, p.Log.Mapping, p.Setup.Bays[0].Name)
	if err != nil {
		return nil, err
	}
	for _, c := range p.Setup.Commands {
		if c.At.Event != "" && c.At.Event != sim.EventStart {
			return nil, wrongUse("%s: a command at %s: on a log, give commands at start + a time", p.File, c.At.Event)
		}
		l.Commands = append(l.Commands, logs.Command{At: c.At.Offset, What: c.What})
	}
	l.SortCommands()
	p.Setup.Bays[0].Sensors = l.Sensors()
	var events []sim.Event
	if r, err := examine.Examine(l, examine.Options{}); err == nil {
		events = r.Events(&p.Setup.Vehicle, p.Setup.Bays[0].Stage)
	}
	return func(s *sim.Setup) sim.Source {
		src, err := logs.NewSource(l, len(s.Vehicle.Stages), logs.FillNone, events)
		if err != nil { // openLog gives no log without a sample
			panic(err)
		}
		return src
	}, nil
}
