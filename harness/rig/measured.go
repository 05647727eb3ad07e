package rig

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"path/filepath"
	"strings"
	"time"

	"drystage/harness"
	"drystage/harness/disk"
	"drystage/sim"
)

// Measured is what was measured of a rig, as it is kept beside the rig's file.
type Measured struct {
	Kind  string    `json:"drystage"` // "measurement"
	Rig   string    `json:"rig"`      // digest of the rig's file
	Host  string    `json:"host"`
	Made  time.Time `json:"made"`
	Paths []Path    `json:"paths"`
}

// Path is the measured way from an edge to its stamp.
type Path struct {
	Output string        `json:"output"` // BOARD.OUTPUT
	Way    string        `json:"way"`    // wayLoopback, or wayBoard
	Edges  int           `json:"edges"`
	Lost   int           `json:"lost"`
	P50    time.Duration `json:"p50_ns"`
	P99    time.Duration `json:"p99_ns"`
	P999   time.Duration `json:"p99_9_ns"`
	Max    time.Duration `json:"max_ns"`
	Within time.Duration `json:"within_ns"` // expanded uncertainty (k = 2)
}

// The ways: from the call that drives a pin, or from the board's own stamp of an edge, to the pin's stamp.
const (
	wayLoopback = "loopback"
	wayBoard    = "board"
)

// NewPath sums up measured delays.
func NewPath(output, way string, l Latencies, lost int) Path {
	return Path{Output: output, Way: way, Edges: len(l), Lost: lost, P50: l.Quantile(0.5), P99: l.Quantile(0.99),
		P999: l.Quantile(0.999), Max: l.Quantile(1), Within: l.Within()}
}

// MeasuredFile is where a rig's measurement is kept.
func MeasuredFile(rigFile string) string {
	return strings.TrimSuffix(rigFile, filepath.Ext(rigFile)) + ".measured.json"
}

// Write writes a measurement as its file holds it.
func (m *Measured) Write(w io.Writer) error {
	b, err := json.MarshalIndent(m, "", "  ")
	if err == nil {
		_, err = w.Write(append(b, '\n'))
	}
	return err
}

// Keep takes over from an earlier measurement of the same rig on the same computer what was measured
// another way, with its older date.
func (m *Measured) Keep(old *Measured) {
	if old == nil || old.Rig != m.Rig || old.Host != m.Host || len(m.Paths) == 0 {
		return
	}
	for _, p := range old.Paths {
		if p.Way != m.Paths[0].Way {
			m.Paths = append(m.Paths, p)
			m.Made = old.Made
		}
	}
}

// LoadMeasured reads the measurement beside a rig's file; nil without an error when there is none.
func LoadMeasured(rigFile string) (*Measured, error) {
	name := MeasuredFile(rigFile)
	b, err := disk.Read(name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	var m Measured
	if err == nil {
		err = json.Unmarshal(b, &m)
	}
	if err == nil && m.Kind != "measurement" {
		err = errors.New("it is no measurement of a rig")
	}
	if err != nil {
		return nil, fmt.Errorf("rig: %s: %w; move it away and measure again", name, err)
	}
	return &m, nil
}

// PathTiming is how well an output's edges are timed: Delay from the edge to its stamp, give or take
// Within (k = 2). Why says why it is only the default, and is empty for a measured path.
type PathTiming struct {
	Delay, Within sim.Time
	Why           string
}

// Timing gives what is known of an output's path, from a measurement that may be nil: what was measured of
// the output itself, the more certain of loopback and board; else the worst loopback of another pin of this
// computer, since the waking up is the computer's, not the pin's.
func (m *Measured) Timing(spec *harness.Rig, role, output, host string, now time.Time) PathTiming {
	var c harness.Pin
	if b := spec.Board(role); b != nil {
		if o := b.Output(output); o != nil {
			c = o.Capture
		}
	}
	if why := m.Stale(spec, host, now); why != "" {
		return PathTiming{Delay: c.Delay, Within: both(spec.Default, c.Within), Why: why}
	}
	k, ok := m.own(role + "." + output)
	if !ok {
		k, ok = m.others()
	}
	if !ok {
		return PathTiming{Delay: c.Delay, Within: both(spec.Default, c.Within), Why: "this output was never measured"}
	}
	return PathTiming{Delay: c.Delay + k.Delay, Within: both(k.Within, c.Within)}
}

// own gives what was measured of an output itself. Within is the more certain of the two ways.
func (m *Measured) own(name string) (best PathTiming, ok bool) {
	for _, p := range m.Paths {
		if p.Output != name {
			continue
		}
		k := PathTiming{Delay: sim.Time(p.P50), Within: sim.Time(p.Within)}
		if p.Way == wayBoard {
			k.Delay, k.Within = halved(p.P50, p.Within)
		}
		if !ok || k.Within < best.Within {
			best, ok = k, true
		}
	}
	return best, ok
}

// others gives the worst loopback.
func (m *Measured) others() (worst PathTiming, ok bool) {
	for _, p := range m.Paths {
		if p.Way == wayLoopback && (!ok || sim.Time(p.Within) > worst.Within) {
			worst, ok = PathTiming{Delay: sim.Time(p.P50), Within: sim.Time(p.Within)}, true
		}
	}
	return worst, ok
}

// Stale says why a measurement, which may be nil, does not count: there is none, the rig's file has changed
// since, it is of another computer, it is older than the rig says that one lasts (30 days unless
// `measured_for` says otherwise) or from the future, or edges got lost in it. Empty: it counts.
func (m *Measured) Stale(spec *harness.Rig, host string, now time.Time) string {
	switch {
	case m == nil:
		return "the rig was never measured"
	case m.Rig != spec.Digest:
		return "the rig's file has changed since it was measured"
	case m.Host != host:
		return "the rig was measured on another computer, " + m.Host
	case now.Sub(m.Made) > time.Duration(spec.Lasts):
		return fmt.Sprintf("the rig was measured %d days ago", int(now.Sub(m.Made).Hours()/24))
	case now.Before(m.Made.Add(-time.Hour)):
		return "the rig's measurement lies in the future; is the clock right?"
	}
	for _, p := range m.Paths {
		if p.Lost > 0 {
			return fmt.Sprintf("the measurement lost %d edges at %s", p.Lost, p.Output)
		}
	}
	return ""
}

// both combines two independent expanded uncertainties of the same k: the root of the sum of squares,
// JCGM 100:2008, 5.1.2.
func both(a, b sim.Time) sim.Time {
	return sim.Time(math.Round(math.Hypot(float64(a), float64(b))))
}
