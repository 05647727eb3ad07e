package mutants

// Reason says why mutants live. Empty fields stand for anything.
type Reason struct {
	Func string // of which
	Kind Kind
	Was  string // what stands there
	Is   string // what the mutant makes of it
	// Equal: they can't be told from the original, by the argument in Why. Else they keep to all that is demanded of a
	// board, and Why says by what; they count as live.
	Equal bool
	Why   string
}

// Find gives the first reason that a mutant lives; nil if there is none.
func Find(all []Reason, m *Mutant) *Reason {
	for i := range all {
		if all[i].fits(m) {
			return &all[i]
		}
	}
	return nil
}

func (r *Reason) fits(m *Mutant) bool {
	return (r.Func == "" || r.Func == m.Func) && (r.Kind == "" || r.Kind == m.Kind) && (r.Was == "" || r.Was == m.Was) && (r.Is == "" || r.Is == m.Is)
}

// Stale gives the reasons that no mutant needs.
func Stale(reasons []Reason, all []Mutant) (out []Reason) {
	for i := range reasons {
		used := false
		for k := range all {
			used = used || Find(reasons, &all[k]) == &reasons[i]
		}
		if !used {
			out = append(out, reasons[i])
		}
	}
	return out
}
