package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"drystage/harness"
	"drystage/harness/judge/hazards"
)

// proof is what a dangerous firmware has shown: a line of JSON.
type proof struct {
	Firmware, Scenario string
	Hazards            hazards.Set
}

// writeHazards writes the page of hazards.
func writeHazards(file, proofs string, m *hazards.Matrix) error {
	if err := addProofs(proofs, m); err != nil {
		return err
	}
	return os.WriteFile(file, []byte(hazardPage(m)), 0o644)
}

// inLockstep takes from plans what only real boards need.
func inLockstep(plans []harness.Plan) {
	for i := range plans {
		for k := range plans[i].Boards {
			plans[i].Boards[k].NMEA, plans[i].Boards[k].Lockstep = harness.NMEA{}, true
		}
	}
}

// addProofs adds what dangerous firmwares have shown.
func addProofs(file string, m *hazards.Matrix) error {
	if file == "" {
		return nil
	}
	f, err := os.Open(file)
	if err != nil {
		return err
	}
	defer f.Close()
	for lines := json.NewDecoder(f); ; {
		var p proof
		if err := lines.Decode(&p); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return fmt.Errorf("%s: %w", file, err)
		}
		i := slices.Index(m.Scenarios, p.Scenario)
		if i < 0 {
			return fmt.Errorf("%s: no scenario %q", file, p.Scenario)
		}
		m.Add(i, "firmware "+p.Firmware, p.Hazards)
	}
}

const hazardHead = `# Hazards

Which accidents the shipped suite tries, and the proof that it does: wrong boards that show the accident in a flight that
fails for them. What a flight shows is found from its record alone (` + "`harness/judge/hazards`" + `). A hazard that the sound
board shows in a scenario as well, since a fault brings it about, doesn't count there. Defects are the built-in board's
(` + "`drystage bench --list-defects`" + `), firmwares are those of ` + "`firmware-contract/dangerous`" + `, mutants are single changes of
the built-in board's code (` + "`make mutants`" + `). ` + "`make hazards`" + ` writes this page.
`

// hazardPage writes the page as Markdown.
func hazardPage(m *hazards.Matrix) string {
	var b strings.Builder
	b.WriteString(hazardHead)
	tried := map[string]bool{}
	for _, h := range hazards.All() {
		scenarios := m.Tries(h)
		fmt.Fprintf(&b, "\n## %s\n\n%s: %s.\n\nTried by %s.\n", h.Word(), h.What(), h.Harm(), listed(scenarios, 0))
		for _, s := range scenarios {
			tried[s] = true
		}
		for _, kind := range []string{"defect", "firmware", "mutant"} {
			var found []string
			for _, p := range m.Boards(h) {
				if is, name, _ := strings.Cut(p.Board, " "); is == kind {
					found = append(found, name+" ("+p.Scenario+")")
				}
			}
			if len(found) > 0 {
				fmt.Fprintf(&b, "\n- %s: %s", kind+"s", listed(found, map[string]int{"mutant": 4}[kind]))
			}
		}
		b.WriteString("\n")
	}
	var rest []string
	for _, s := range m.Scenarios {
		if !tried[s] {
			rest = append(rest, s)
		}
	}
	fmt.Fprintf(&b, "\n## Scenarios that no wrong board fails\n\n%s.\n", listed(rest, 0))
	return b.String()
}

// listed writes a list; of more than a few given, only those; 0: all.
func listed(all []string, few int) string {
	if len(all) == 0 {
		return "nothing"
	}
	more := ""
	if few > 0 && len(all) > few {
		all, more = all[:few], fmt.Sprintf(", and %d more", len(all)-few)
	}
	return "`" + strings.Join(all, "`, `") + "`" + more
}
