package main

import (
	"io"
	"strings"

	"github.com/alecthomas/kong"
	mangokong "github.com/alecthomas/mango-kong"
	"github.com/muesli/roff"
)

type manCmd struct{}

// Run prints the manual page in roff, made from what --help says. The first line is that of the page's name, and a line
// is a paragraph there.
func (*manCmd) Run(d *console, k *kong.Context) error {
	var paragraphs []string
	for _, p := range strings.Split(about, "\n\n") {
		paragraphs = append(paragraphs, strings.ReplaceAll(p, "\n", " "))
	}
	k.Model.Help = "tests a rocket's flight computer on the bench\n" + strings.Join(paragraphs, "\n\n")
	_, err := io.WriteString(d.out, mangokong.NewManPage(1, k.Model).Build(roff.NewDocument()))
	return err
}
