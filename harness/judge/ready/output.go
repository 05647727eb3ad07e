package ready

import (
	"slices"

	"drystage/harness"
)

// Output is one output of a board over all records.
type Output struct {
	Role, Name string
	Channels   []int  // as the board numbers it; more than one if records differ
	Does       string // what it acts on
	Demands    []Count
	// Of the scenarios that pass: in how many it switched on, at which pace, and the sources of its times.
	Fired, Lockstep, RealTime int
	Known                     []Count
	Closest                   *Call // of all expectations on it, in any record
}

// Count is the number of scenarios with a word.
type Count struct {
	Word      string
	Scenarios int
}

// kinds is how many kinds of expectation are about outputs; they come first.
const kinds = int(harness.AtFiring) + 1

// demandWords are the words of scenario files for the kinds of expectation.
var demandWords = [kinds]string{"fires", "never", "once", "pulse", "order", "firing"}

// seen is a set of scenario names.
type seen map[string]bool

func (s *seen) add(name string) {
	if *s == nil {
		*s = seen{}
	}
	(*s)[name] = true
}

// outputSum collects an output over all records.
type outputSum struct {
	Output
	demands         [kinds]seen
	fired, step, rt seen
	known           [harness.ByPin + 1]seen
}

// outputs summarises each output over all records, by board and channel.
func outputs(flights []flight) []Output {
	all := map[string]*outputSum{}
	for i := range flights {
		f := &flights[i]
		for k := range f.outputs {
			o := &f.outputs[k]
			key := o.role + "\x00" + o.name
			if all[key] == nil {
				all[key] = &outputSum{Output: Output{Role: o.role, Name: o.name, Does: o.does}}
			}
			all[key].add(f, o)
		}
	}
	var out []Output
	for _, key := range sorted(all) {
		out = append(out, all[key].total())
	}
	return out
}

// add adds one record of the output. Expectations and firings count only in records that pass.
func (s *outputSum) add(f *flight, o *output) {
	if !slices.Contains(s.Channels, o.channel) {
		s.Channels = append(s.Channels, o.channel)
		slices.Sort(s.Channels)
	}
	if c := o.closest; c != nil && (s.Closest == nil || c.Finding.Share < s.Closest.Finding.Share) {
		call := f.from(*c)
		s.Closest = &call
	}
	if !f.proves() {
		return
	}
	for k, demanded := range o.demands {
		if demanded {
			s.demands[k].add(f.name)
		}
	}
	if !o.fired {
		return
	}
	s.fired.add(f.name)
	if f.realTime {
		s.rt.add(f.name)
	} else {
		s.step.add(f.name)
	}
	for b, known := range o.known {
		if known {
			s.known[b].add(f.name)
		}
	}
}

func (s *outputSum) total() Output {
	for k, in := range s.demands {
		if len(in) > 0 {
			s.Demands = append(s.Demands, Count{demandWords[k], len(in)})
		}
	}
	for b, in := range s.known {
		if len(in) > 0 {
			s.Known = append(s.Known, Count{harness.Basis(b).String(), len(in)})
		}
	}
	s.Fired, s.Lockstep, s.RealTime = len(s.fired), len(s.step), len(s.rt)
	return s.Output
}

// seenByPin says that a pin at the output measured it in a record that passes.
func (o *Output) seenByPin() bool {
	return slices.ContainsFunc(o.Known, func(c Count) bool { return c.Word == harness.ByPin.String() })
}
