package mutants

// Outcome is what a suite of flights made of a mutant.
type Outcome string

// The outcomes. Only the first three kill: an unsure suite is no failure.
const (
	Killed    Outcome = "killed"    // a scenario fails, or a point of the contract
	Crashed   Outcome = "crashed"   // the board's program ended
	Hung      Outcome = "hung"      // the board's program never answered again
	Unsure    Outcome = "unsure"    // no scenario fails, but some are unsure
	Survived  Outcome = "survived"  // everything passes
	Unreached Outcome = "unreached" // no scenario comes to the place of the mutation
	Idle      Outcome = "idle"      // it never has another value, nor does anything else, in all that was flown and tried
)

// Result is what became of a mutant.
type Result struct {
	Mutant
	Outcome  Outcome
	Scenario string   `json:",omitempty"` // that killed it, or the first that was unsure
	Point    string   `json:",omitempty"` // of the contract, that killed it when no scenario did
	Finding  string   `json:",omitempty"` // of that scenario or point
	Own      bool     `json:",omitempty"` // that scenario is the board's own; none of the shipped suite kills it
	Failed   []string `json:",omitempty"` // the texts of all expectations that failed there
	Flights  int      // until then
	Seconds  float64  // of them
}

// Killed says that the suite has found the mutant.
func (r *Result) Killed() bool {
	return r.Outcome == Killed || r.Outcome == Crashed || r.Outcome == Hung
}

// Score counts results.
type Score struct {
	All, Killed, Equal, Left int // Left: neither killed nor equal by argument
	Within                   int // of those left: the board keeps to all that is demanded of it, for a written reason
	ByOwn                    int // of the killed: by the board's own scenarios alone
	ByContract               int // of the killed: by the points of the contract alone
	WrongEqual               int // equal by argument, yet killed: the argument is wrong
}

// Percent is the share of killed ones in those that are not equal by argument.
func (s Score) Percent() float64 {
	if s.Killed+s.Left == 0 {
		return 100
	}
	return 100 * float64(s.Killed) / float64(s.Killed+s.Left)
}

// Count counts the results that match.
func Count(all []Result, reasons []Reason, match func(*Result) bool) (s Score) {
	for i := range all {
		r := &all[i]
		if match != nil && !match(r) {
			continue
		}
		s.All++
		why := Find(reasons, &r.Mutant)
		switch {
		case r.Killed():
			s.Killed++
			if r.Own {
				s.ByOwn++
			}
			if r.Point != "" {
				s.ByContract++
			}
			if why != nil && why.Equal {
				s.WrongEqual++
			}
		case why != nil && why.Equal:
			s.Equal++
		default:
			s.Left++
			if why != nil {
				s.Within++
			}
		}
	}
	return s
}
