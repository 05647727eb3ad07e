package examine

import (
	"slices"

	"drystage/harness/logs"
	"drystage/sim"
)

const (
	heldLeast = 2   // rows that each value of a slow part stands in at least
	heldFew   = 12  // values by which that is told
	heldAgain = 1.5 // times the usual time of a value after which the same one is another sample: a part may be stuck
)

// unheld gives the log with one sample for each value of a part that is slower than the rows which repeat it: a mapping need not
// say so, and each row of them would be a sample that jumps and then stands still.
func unheld(l *logs.Log) *logs.Log {
	out := *l
	for p := range out.Streams {
		if s := &out.Streams[p]; sim.Part(p) != sim.PartBattery && s.Len() > 0 { // a battery's voltage stands still for long
			if keep := freshRows(s); keep != nil {
				out.Streams[p] = s.Rows(keep)
			}
		}
	}
	return &out
}

// freshRows lists the rows in which a part says something new; nil where each of its rows may be a sample.
func freshRows(s *logs.Stream) []int {
	var fresh, runs []int
	for i := range s.Times {
		if i > 0 && !slices.ContainsFunc(s.Data, func(x []int32) bool { return x != nil && x[i] != x[i-1] }) {
			continue
		}
		if n := len(fresh); n > 1 { // the first value may have stood before the log
			if i-fresh[n-1] < heldLeast {
				return nil
			}
			runs = append(runs, i-fresh[n-1])
		}
		fresh = append(fresh, i)
	}
	if len(fresh) < heldFew {
		return nil
	}
	slices.Sort(runs)
	usual := runs[len(runs)/2]
	var keep []int
	for k, i := range fresh {
		until := s.Len()
		if k+1 < len(fresh) {
			until = fresh[k+1]
		}
		for keep = append(keep, i); float64(until-i) > heldAgain*float64(usual); keep = append(keep, i) {
			i += usual
		}
	}
	return keep
}
