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
	"flag"
	"fmt"
	"os"
	"os/signal"
	"time"

	"drystage/harness/judge/mutants"
)

// command is what was asked for.
type command struct {
	of     string // go or c
	sample int    // so many mutants; 0: all
	only   int    // this mutant
	seed   uint64 // of the sample
	out    string // a file for the results as JSON
	list   bool
}

func main() {
	if len(os.Args) == 2 && os.Args[1] == "fly" {
		if err := flyAsked(os.Stdin, os.Stdout); err != nil {
			fmt.Fprintln(os.Stderr, "mutants:", err)
			os.Exit(1)
		}
		return
	}
	var c command
	flag.StringVar(&c.of, "of", "go", "the board: go, the built-in one; c, the reference firmware")
	flag.IntVar(&c.sample, "sample", 0, "fly so many mutants, drawn by the seed; 0: all")
	flag.IntVar(&c.only, "only", 0, "fly the mutant with this number")
	flag.Uint64Var(&c.seed, "seed", 1, "of the sample")
	flag.StringVar(&c.out, "out", "", "write the results to this file as JSON")
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
	chosen := c.choose(p.schemata.Mutants)
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
	results, err := p.fly(ctx, chosen, os.Stderr)
	if err != nil {
		return err
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
	fmt.Printf("\n%d mutants of %s: %d killed, %d equal by argument, %d live; score %.1f %%; %.0f s\n",
		s.All, p.of, s.Killed, s.Equal, s.Left, s.Percent(), time.Since(began).Seconds())
	if s.WrongEqual > 0 {
		return fmt.Errorf("%d mutants are equal by argument, but the suite kills them", s.WrongEqual)
	}
	return nil
}
