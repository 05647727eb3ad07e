package trace

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"drystage/harness"
	"drystage/sim"
	"drystage/sim/fault"
	"drystage/sim/r3"
)

const (
	context  = 2 // samples shown before and after a fault
	maxShown = 9 // samples shown at each end of a long one
)

// Table writes what each fault of a record did: of a fault of a sensor the samples around it, of which the
// number that it changed most is shown; of another one when it changed something.
func Table(w io.Writer, rec *harness.Record) error {
	out := &strings.Builder{}
	faults := rec.Plan.Setup.Faults
	for i := range faults {
		if i > 0 {
			out.WriteByte('\n')
		}
		fmt.Fprintf(out, "fault %d: %s\n", i+1, fault.Text(faults[i], &rec.Plan.Setup))
		if faults[i].Kind.Layer() == sim.OnSensor {
			sampleTable(out, rec, i)
		} else {
			activityTable(out, rec, i)
		}
	}
	if len(faults) == 0 {
		fmt.Fprintf(out, "%s has no faults\n", rec.Plan.Name)
	}
	_, err := io.WriteString(w, out.String())
	return err
}

// activityTable tells when a fault that isn't of a sensor changed something.
func activityTable(out *strings.Builder, rec *harness.Record, i int) {
	first, last, n := sim.Time(0), sim.Time(0), 0
	for tick, active := range rec.Active {
		if active>>uint(i)&1 != 0 {
			if n == 0 {
				first = rec.Times[tick]
			}
			last = rec.Times[tick]
			n++
		}
	}
	switch n {
	case 0:
		out.WriteString("  it changed nothing\n")
	case 1:
		fmt.Fprintf(out, "  it came at %s\n", first)
	default:
		fmt.Fprintf(out, "  it changed something at %d instants, %s to %s\n", n, first, last)
	}
}

// sampleTable tells what a fault did to samples.
func sampleTable(out *strings.Builder, rec *harness.Record, i int) {
	f := &rec.Plan.Setup.Faults[i]
	if f.Bay < 0 || f.Bay >= len(rec.Plan.Setup.Bays) || f.Part == sim.NoPart || f.Part > sim.LastPart {
		out.WriteString("  it names no part of a board\n")
		return
	}
	list := Samples(rec, f.Bay, f.Part)
	var hit []int
	for k := range list {
		if list[k].Faults>>uint(i)&1 != 0 {
			hit = append(hit, k)
		}
	}
	if len(hit) == 0 {
		out.WriteString("  it changed nothing\n")
		return
	}
	axis := mostChanged(list, hit, f)
	symbol, per := unit(f.Part, axis)
	what := f.Part.String()
	if axes(f.Part) > 1 {
		what += " " + axisName(f.Part, axis)
	}
	fmt.Fprintf(out, "  %d of %d samples, %s to %s; %s in %s\n", len(hit), len(list), list[hit[0]].At, list[hit[len(hit)-1]].At, what, symbol)
	fmt.Fprintf(out, "  %12s %14s %14s %14s %14s\n", "time", "true", "as read", "injected", "sent")
	from, to := max(0, hit[0]-context), min(len(list), hit[len(hit)-1]+1+context)
	for k := from; k < to; k++ {
		if to-from > 2*maxShown && k == from+maxShown {
			k = to - maxShown
			fmt.Fprintf(out, "  %12s\n", "...")
		}
		line(out, &list[k], axis, number{f.Part, axis, per})
	}
}

// mostChanged is the number of the samples that a fault changed most, in the part's own units.
func mostChanged(list []Sample, hit []int, f *sim.Fault) int {
	if f.Axis != sim.AllAxes && axes(f.Part) > 1 && f.Kind != sim.Swapped {
		return int(f.Axis - sim.AxisX)
	}
	best, most := axes(f.Part)-1, 0.0
	for axis := range axes(f.Part) {
		worst := 0.0
		for _, k := range hit {
			by := math.Abs(component(list[k].Injected(), axis))
			if f.Part == sim.PartGNSS && axis < 2 {
				by *= 6.378137e6 // WGS 84's equatorial radius: a place beside a height
			}
			worst = max(worst, by)
		}
		if worst > most {
			best, most = axis, worst
		}
	}
	if most == 0 && f.Part != sim.PartGNSS {
		return 0
	}
	return best
}

func axisName(p sim.Part, axis int) string {
	if p == sim.PartGNSS {
		return [...]string{"longitude", "latitude", "height"}[axis]
	}
	return [...]string{"x", "y", "z"}[axis]
}

// number writes a component of a part's samples.
type number struct {
	part sim.Part
	axis int
	per  float64
}

func (n number) text(x float64) string {
	if math.IsNaN(x) {
		return "-"
	}
	x *= n.per
	if math.Abs(x) >= 1e9 {
		return strconv.FormatFloat(x, 'e', 3, 64)
	}
	digits := 3
	if n.part == sim.PartGNSS && n.axis < 2 {
		digits = 7
	}
	return strconv.FormatFloat(x, 'f', digits, 64)
}

func line(out *strings.Builder, s *Sample, axis int, n number) {
	injected, sent, note := "", n.text(component(s.Sent, axis)), ""
	if s.Faults != 0 {
		injected = n.text(component(s.Injected(), axis))
	}
	switch {
	case s.Dropped:
		injected, sent = "taken away", "-"
	case s.Twice:
		note = "  twice"
	case n.part == sim.PartGNSS && s.Fix == sim.NoFix:
		note = "  no fix"
	}
	fmt.Fprintf(out, "  %12s %14s %14s %14s %14s%s\n", s.At, n.text(component(s.True, axis)), n.text(component(s.Read, axis)), injected, sent, note)
}

// CSV writes every sample of a board's parts, or of all boards' when bay is below 0: one row a sample, with
// the three numbers of what was true, read, injected and sent side by side. What a part has no number
// for, and what nobody knows, is empty.
func CSV(w io.Writer, rec *harness.Record, bay int) error {
	c := csv.NewWriter(w)
	head := []string{"time_s", "board", "part", "unit"}
	for _, what := range []string{"true", "read", "injected", "sent"} {
		for _, axis := range []string{"x", "y", "z"} {
			head = append(head, what+"_"+axis)
		}
	}
	if err := c.Write(append(head, "dropped", "twice", "fix", "faults")); err != nil {
		return err
	}
	for i := range rec.Plan.Setup.Bays {
		if bay >= 0 && i != bay {
			continue
		}
		for p := sim.PartAccel; p <= sim.LastPart; p++ {
			for _, s := range Samples(rec, i, p) {
				if err := c.Write(row(rec, i, p, &s)); err != nil {
					return err
				}
			}
		}
	}
	c.Flush()
	return c.Error()
}

func row(rec *harness.Record, bay int, p sim.Part, s *Sample) []string {
	u, _ := unit(p, 0)
	if p == sim.PartGNSS {
		u = "deg deg m"
	}
	cells := []string{strconv.FormatFloat(s.At.Seconds(), 'f', -1, 64), rec.Plan.Setup.Bays[bay].Name, p.String(), u}
	for k, v := range [...]r3.Vec{s.True, s.Read, s.Injected(), s.Sent} {
		for axis := range 3 {
			_, per := unit(p, axis)
			x := component(v, axis) * per
			if axis >= axes(p) || math.IsNaN(x) || s.Dropped && k >= 2 {
				cells = append(cells, "")
				continue
			}
			cells = append(cells, strconv.FormatFloat(x, 'g', 12, 64))
		}
	}
	fix := ""
	if p == sim.PartGNSS {
		fix = strconv.Itoa(int(s.Fix))
	}
	return append(cells, flag(s.Dropped), flag(s.Twice), fix, numbers(s.Faults))
}

func flag(is bool) string {
	if is {
		return "1"
	}
	return "0"
}

// numbers lists faults as reports count them, from 1.
func numbers(faults uint64) string {
	var list []string
	for i := range sim.MaxFaults {
		if faults>>i&1 != 0 {
			list = append(list, strconv.Itoa(i+1))
		}
	}
	return strings.Join(list, " ")
}
