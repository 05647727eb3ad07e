package scenario

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"

	"drystage/harness"
)

// log reads which flight log is played in place of a simulated flight. The vehicle's state is not known then, so
// that only times can be expected, and there can be no faults.
func (s *planBuilder) log(v value) {
	o := v.object()
	if o == nil {
		return
	}
	s.plan.Log.File = s.l.largeFile(o.get("file"))
	s.plan.Log.Mapping = s.l.largeFile(o.get("mapping"))
	report := func(at harness.Place, found, wanted string) {
		s.l.report(harness.Problem{Place: at, Found: found, Wanted: wanted, Hint: "the simulated flight of the scenario without `log` knows more"})
	}
	if n := len(s.plan.Setup.Bays); n != 1 {
		report(v.at, fmt.Sprintf("a log and %d boards", n), "one board, which is given what the log says")
	}
	if len(s.plan.Setup.Faults) > 0 {
		report(v.at, "a log and faults", "a log as it is")
	}
	for _, e := range s.plan.Expect {
		switch e.Kind {
		case harness.AtFiring, harness.AtEvent, harness.Reports:
			report(e.Place, e.Text, "times only, since a log does not tell the vehicle's state")
		case harness.Never:
			if e.Quantity != 0 {
				report(e.Place, e.Text, "times only, since a log does not tell the vehicle's state")
			}
		}
	}
	for _, e := range s.plan.Expect {
		for _, c := range s.plan.Setup.Crossings {
			if e.HasFrom && e.From.Event == c.Name || e.HasTo && e.To.Event == c.Name {
				report(e.Place, "a log, and "+quote(c.Name), "events that are found in logs: liftoff, separation, apogee, landing, STAGE.burnout and the like")
			}
		}
	}
}

// largeFile gives the name of a file that can be read; only its digest is taken here, since it may be large.
func (l *loader) largeFile(v value) string {
	name, ok := l.resolve(v)
	if !ok {
		return ""
	}
	sum, err := l.digestOf(name)
	if err != nil {
		l.report(harness.Problem{Place: v.at, Found: name + ": " + cause(err).Error(), Wanted: "a file that can be read", Hint: l.otherFile(name)})
		return ""
	}
	l.digested = append(l.digested, harness.File{Name: name, Sum: sum})
	return name
}

// digestOf gives the SHA-256 of a file's bytes in hex, or the one that a plan has kept.
func (l *loader) digestOf(name string) (string, error) {
	if s, ok := l.fsys.(keptFiles); ok {
		return s.sum(name)
	}
	f, err := l.fsys.Open(name)
	if err != nil {
		return "", err
	}
	defer f.Close()
	return Digest(f)
}

// Digest gives the SHA-256 of a file's bytes in hex.
func Digest(r io.Reader) (string, error) {
	h := sha256.New()
	if _, err := io.Copy(h, r); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}
