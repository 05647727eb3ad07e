// Command mutants measures a suite of flights with single-point mutants of a board's decision logic: of the built-in
// board in Go, or of the reference firmware in C. It builds all mutants into one program, flies the suite with each of
// them until the first failure, and says which were killed, which live, and why.
//
//	go run ./cmd/mutants                      # all mutants of the built-in board
//	go run ./cmd/mutants --of c --sample 50   # fifty of the reference firmware's
package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"strings"
	"time"

	"drystage/harness/judge/mutants"
)

// command is what was asked for.
type command struct {
	of     string // go or c
	sample int    // so many mutants; 0: all
	only   int    // this mutant
	again  string // a file of results: those that lived there
	flown  string // names of scenarios, with commas between; empty: all
	seed   uint64 // of the sample
	out    string // a file for the results as JSON
	list   bool
	within time.Duration

	hazards, proofs string
}

func main() {
	if len(os.Args) > 1 && os.Args[1] == "fly" {
		if err := flyAsked(os.Stdin, os.Stdout, os.Args[2], os.Args[3:]); err != nil {
			fmt.Fprintln(os.Stderr, "mutants:", err)
			os.Exit(1)
		}
		return
	}
	var c command
	flag.StringVar(&c.of, "of", "go", "the board: go, the built-in one; c, the reference firmware")
	flag.IntVar(&c.sample, "sample", 0, "fly so many mutants, drawn by the seed; 0: all")
	flag.IntVar(&c.only, "only", 0, "fly the mutant with this number")
	flag.StringVar(&c.again, "again", "", "fly those that lived in this file of results, which --out wrote")
	flag.StringVar(&c.flown, "scenarios", "", "fly these scenarios only, by their names with commas between")
	flag.Uint64Var(&c.seed, "seed", 1, "of the sample")
	flag.StringVar(&c.out, "out", "", "write the results to this file as JSON")
	flag.DurationVar(&c.within, "within", 0, "begin no mutant after this time; 0: no limit")
	flag.StringVar(&c.hazards, "hazards", "", "write the page of hazards to this file: what these mutants and the known defects of the built-in board show")
	flag.StringVar(&c.proofs, "proofs", "", "what dangerous firmwares have shown, for that page: lines of JSON, as TestDangerousFirmwares writes them to $DRYSTAGE_HAZARDS")
	flag.BoolVar(&c.list, "list", false, "list the mutants and fly none")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := c.run(ctx); err != nil {
		fmt.Fprintln(os.Stderr, "mutants:", err)
		os.Exit(1)
	}
}

func (c *command) run(ctx context.Context) error {
	began := time.Now()
	p, err := prepare(ctx, c.of)
	if err != nil {
		return err
	}
	defer p.remove()
	chosen, err := c.choose(p.schemata.Mutants)
	if err != nil {
		return err
	}
	if c.hazards != "" && (c.flown != "" || c.of != "go") {
		return errors.New("--hazards wants all scenarios and mutants of the built-in board")
	}
	if c.hazards != "" {
		p.own = ""
	}
	p.flown = strings.FieldsFunc(c.flown, func(r rune) bool { return r == ',' })
	if c.list {
		for i := range chosen {
			fmt.Printf("%d %s\n", chosen[i].Number, chosen[i].String())
		}
		return nil
	}
	if err := p.build(ctx); err != nil {
		return err
	}
	fmt.Fprintf(os.Stderr, "%d mutants built after %.0f s; flying %d\n", len(p.schemata.Mutants), time.Since(began).Seconds(), len(chosen))
	if c.within > 0 {
		p.until = began.Add(c.within)
	}
	results, shown, err := p.fly(ctx, chosen, os.Stderr)
	if err != nil {
		return err
	}
	if c.hazards != "" {
		if err := writeHazards(ctx, c.hazards, c.proofs, shown); err != nil {
			return err
		}
	}
	if c.out != "" {
		text, err := json.MarshalIndent(results, "", " ")
		if err != nil {
			return err
		}
		if err := os.WriteFile(c.out, text, 0o644); err != nil {
			return err
		}
	}
	if err := mutants.Write(os.Stdout, results, p.reasons, p.schemata.Mutants); err != nil {
		return err
	}
	s := mutants.Count(results, p.reasons, nil)
	fmt.Printf("\n%d mutants of %s: %d killed, %d of them by the reference's own scenarios alone, %d by the contract alone; %d equal by argument; %d live, %d of them within the demands; score %.1f %%; %.0f s\n",
		s.All, p.of, s.Killed, s.ByOwn, s.ByContract, s.Equal, s.Left, s.Within, s.Percent(), time.Since(began).Seconds())
	if s.WrongEqual > 0 {
		return fmt.Errorf("%d mutants are equal by argument, but the suite kills them", s.WrongEqual)
	}
	return nil
}
