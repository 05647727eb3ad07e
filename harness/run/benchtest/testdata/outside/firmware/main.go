// Command firmware stands for a team's own: a program that speaks the contract on its standard input and output.
package main

import (
	"io"
	"log"
	"os"

	"drystage/harness/board/mock"
)

func main() {
	defect := ""
	if len(os.Args) > 1 {
		defect = os.Args[1]
	}
	line := struct {
		io.Reader
		io.Writer
	}{os.Stdin, os.Stdout}
	if err := mock.Serve(line, defect); err != nil && err != io.EOF {
		log.Fatal(err)
	}
}
