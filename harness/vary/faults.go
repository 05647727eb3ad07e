package vary

import (
	"fmt"
	"slices"
	"strings"

	"drystage/harness"
	"drystage/sim"
)

// FaultNames names faults as files do: by the kind alone where there is one of it, else with the number among its kind. without
// are the names of those that were left out; the others keep their names.
func FaultNames(faults []sim.Fault, without []string) []string {
	of, n := map[string]int{}, map[string]int{}
	for _, f := range faults {
		of[f.Kind.String()]++
	}
	for _, name := range without {
		of[faultKind(name)]++
	}
	out := make([]string, len(faults))
	for i, f := range faults {
		kind := f.Kind.String()
		name := kind
		for more := of[kind] > 1; more; more = slices.Contains(without, name) {
			n[kind]++
			name = fmt.Sprintf("%s.%d", kind, n[kind])
		}
		out[i] = name
	}
	return out
}

// faultKind gives the kind in the name of a fault.
func faultKind(name string) string {
	kind, _, _ := strings.Cut(name, ".")
	return kind
}

// Without gives the plan without some faults, by their names; other names are ignored. What varied of them, or was set, is left
// out, too. The given plan doesn't change. The new plan's Rehearsed is empty.
func Without(p *harness.Plan, names []string) harness.Plan {
	out := *p
	if len(names) == 0 {
		return out
	}
	all := FaultNames(p.Setup.Faults, p.Without)
	out.Setup.Rehearsed, out.Setup.Faults, out.Vary, out.Set = nil, nil, nil, nil
	out.Without = slices.Clone(p.Without)
	moved := make([]int, len(all)) // the new index of a fault; -1: it is left out
	for i, name := range all {
		moved[i] = -1
		if slices.Contains(names, name) {
			out.Without = append(out.Without, name)
			continue
		}
		moved[i] = len(out.Setup.Faults)
		out.Setup.Faults = append(out.Setup.Faults, p.Setup.Faults[i])
	}
	for _, v := range p.Vary {
		if v.What == harness.FaultFrom || v.What == harness.FaultBy {
			v.Index = moved[v.Index]
		}
		if v.Index != -1 || v.What == harness.DragScale {
			out.Vary = append(out.Vary, v)
		}
	}
	for _, x := range p.Set {
		if !OfFaults(x.Name, names) {
			out.Set = append(out.Set, x)
		}
	}
	out.Correlated = nil
	for _, c := range p.Correlated {
		if !OfFaults(c.Pair[0], names) && !OfFaults(c.Pair[1], names) {
			out.Correlated = append(out.Correlated, c)
		}
	}
	return out
}

// OfFaults says that a parameter, by its name, is one of some faults.
func OfFaults(parameter string, faults []string) bool {
	return slices.ContainsFunc(faults, func(name string) bool { return parameter == name+".from" || parameter == name+".by" })
}
