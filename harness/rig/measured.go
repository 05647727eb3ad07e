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

// Measured is a measurement of a rig, as its file holds it.
type Measured struct {
	Kind  string    `json:"drystage"` // "measurement"
	Rig   string    `json:"rig"`      // digest of the rig's file
	Host  string    `json:"host"`
	Made  time.Time `json:"made"`
	Paths []Path    `json:"paths"`
}

// Path is the measured path from an edge to its stamp.
type Path struct {
	Output string        `json:"output"` // BOARD.OUTPUT
	Way    string        `json:"way"`    // byLoopback or byBoard
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
	byLoopback = "loopback"
	byBoard    = "board"
)

// NewPath summarises measured delays.
func NewPath(output, way string, l Latencies, lost int) Path {
	return Path{Output: output, Way: way, Edges: len(l), Lost: lost, P50: l.Quantile(0.5), P99: l.Quantile(0.99),
		P999: l.Quantile(0.999), Max: l.Quantile(1), Within: l.Within()}
}

// MeasuredFile is where a rig's measurement is kept.
func MeasuredFile(rigFile string) string {
	return strings.TrimSuffix(rigFile, filepath.Ext(rigFile)) + ".measured.json"
}

// Write writes a measurement in the form of its file.
func (m *Measured) Write(w io.Writer) error {
	b, err := json.MarshalIndent(m, "", "  ")
	if err == nil {
		_, err = w.Write(append(b, '\n'))
	}
	return err
}

// Keep copies the paths that an earlier measurement of the same rig on the same computer made the other way, with
// their date.
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

// LoadMeasured reads the measurement beside a rig's file; nil without an error if there is none.
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

// PathTiming is the timing of an output's edges: Delay is from the edge to its stamp, Within its expanded uncertainty
// (k = 2). Why says why it is only the default; it is empty for a measured path.
type PathTiming struct {
	Delay, Within sim.Time
	Why           string
}

// Timing gives the timing of an output's path, from a measurement that may be nil. The output's own measurement is
// used, by loopback or by the board, whichever is more certain. Else it is the worst loopback of another pin of this
// computer, since most of the delay is the computer's. Else it is the rig's default.
func (m *Measured) Timing(spec *harness.Rig, role, output, host string, now time.Time) PathTiming {
	var c harness.Pin
	if b := spec.Board(role); b != nil {
		if o := b.Output(output); o != nil {
			c = o.Capture
		}
	}
	if why := m.Stale(spec, host, now); why != "" {
		return PathTiming{Delay: c.Delay, Within: rootSumSquares(spec.Default, c.Within), Why: why}
	}
	k, ok := m.ofOutput(role + "." + output)
	if !ok {
		k, ok = m.worstLoopback()
	}
	if !ok {
		return PathTiming{Delay: c.Delay, Within: rootSumSquares(spec.Default, c.Within), Why: "this output was never measured"}
	}
	return PathTiming{Delay: c.Delay + k.Delay, Within: rootSumSquares(k.Within, c.Within)}
}

// ofOutput gives the timing measured at an output itself: the more certain of the two ways.
func (m *Measured) ofOutput(name string) (best PathTiming, ok bool) {
	for _, p := range m.Paths {
		if p.Output != name {
			continue
		}
		k := PathTiming{Delay: sim.Time(p.P50), Within: sim.Time(p.Within)}
		if p.Way == byBoard {
			k.Delay, k.Within = boardPathTiming(p.P50, p.Within)
		}
		if !ok || k.Within < best.Within {
			best, ok = k, true
		}
	}
	return best, ok
}

// worstLoopback gives the least certain loopback.
func (m *Measured) worstLoopback() (worst PathTiming, ok bool) {
	for _, p := range m.Paths {
		if p.Way == byLoopback && (!ok || sim.Time(p.Within) > worst.Within) {
			worst, ok = PathTiming{Delay: sim.Time(p.P50), Within: sim.Time(p.Within)}, true
		}
	}
	return worst, ok
}

// Stale says why a measurement, which may be nil, can't be used: there is none, the rig's file has changed, it was
// made on another computer, it is older than the rig's `measured_for` (30 days by default), it is from the future, or
// edges were lost in it. Empty: it can be used.
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

// rootSumSquares combines two independent expanded uncertainties of the same k (JCGM 100:2008, 5.1.2).
func rootSumSquares(a, b sim.Time) sim.Time {
	return sim.Time(math.Round(math.Hypot(float64(a), float64(b))))
}
