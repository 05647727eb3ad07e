package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"time"

	"drystage/harness"
	"drystage/harness/board/mock"
	"drystage/harness/files/suite"
	"drystage/harness/judge/hazards"
	"drystage/harness/judge/verdict"
	"drystage/harness/run"
)

// proof is what a dangerous firmware has shown: a line of JSON.
type proof struct {
	Firmware, Scenario string
	Hazards            hazards.Set
}

const (
	proofsEach = 4 // scenarios in which a defect shows a hazard, after which it is flown no further
	atOnce     = 8 // flights
)

// writeHazards flies the known defects of the built-in board, and writes the page of hazards.
func writeHazards(ctx context.Context, file, proofs string, m *hazards.Matrix) error {
	s, err := suite.Load(nil, io.Discard)
	if err != nil {
		return err
	}
	inLockstep(s.Plans)
	b, err := run.Open(ctx, run.Options{Timeout: 2 * time.Second}, s.Plans)
	if err != nil {
		return err
	}
	defer b.Close()
	for i, d := range mock.Defects() {
		if err := flyDefect(ctx, b.Defect(d.Name), s.Plans, i, "defect "+d.Name, m); err != nil {
			return err
		}
	}
	if err := addProofs(proofs, m); err != nil {
		return err
	}
	return os.WriteFile(file, []byte(hazardPage(m)), 0o644)
}

// flyDefect flies a defect, each from another scenario of the suite on, until it has shown hazards in some of them.
func flyDefect(ctx context.Context, b *run.Bench, plans []harness.Plan, n int, name string, m *hazards.Matrix) error {
	order := make([]int, len(plans))
	for i := range order {
		order[i] = (i + 31*n) % len(plans)
	}
	shown := 0
	for part := range slices.Chunk(order, atOnce) {
		var some []harness.Plan
		for _, i := range part {
			some = append(some, plans[i])
		}
		if err := b.Fly(ctx, some, func(i int, rec *harness.Record) error {
			if v := verdict.Judge(rec); v.Answer == harness.Fail && m.Add(part[i], name, hazards.Of(rec, &v)) {
				shown++
			}
			return nil
		}); err != nil {
			return err
		}
		if shown >= proofsEach {
			return nil
		}
	}
	return nil
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
the built-in board's code (` + "`make mutants`" + `). ` + "`make hazards`" + ` writes this page; it
flies a defect until it has shown hazards in some scenarios, so that scenarios that would try a hazard as well may not stand there.
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
	fmt.Fprintf(&b, "\n## Scenarios beside these\n\n%s.\n", listed(rest, 0))
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
