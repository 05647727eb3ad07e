package main

import (
	"strings"

	"drystage/harness/files/scenario"
	"drystage/harness/logs"
	"drystage/harness/logs/examine"
	"drystage/harness/show/report"
)

type schemaCmd struct {
	Kind string `arg:"" optional:"" help:"A kind of file, or a command for what it prints with --format json. Without it all are listed."`
}

// Run prints the schema, or lists all that there are.
func (c *schemaCmd) Run(d *console) error {
	if c.Kind == "" {
		return listSchemas(d)
	}
	kind := strings.ToLower(c.Kind)
	b, ok := outputSchema(kind)
	if kind == scenario.Mapping {
		b, ok = logs.Schema(), true
	}
	if !ok {
		var err error
		if b, err = scenario.Schema(kind); err != nil {
			return wrongUse("%v, or mapping; outputs have the schemas %s", err, strings.Join(schemaNames(outputs()), ", "))
		}
	}
	_, err := d.out.Write(append(b, '\n'))
	return err
}

// outputs are the commands whose output for other programs has a schema, and what the output tells.
func outputs() [][2]string {
	return append(report.Outputs(), [2]string{"examine", "what a flight log tells: phases, findings with explanations"})
}

// outputSchema is the schema of what a command prints with --format json.
func outputSchema(command string) (text []byte, ok bool) {
	if command == "examine" {
		text, err := examine.Schema()
		return text, err == nil
	}
	return report.Schema(command)
}

func listSchemas(d *console) error {
	list := func(head string, of [][2]string) {
		sayf(d.out, "%s\n", head)
		for _, x := range of {
			sayf(d.out, "  %-9s %s\n", x[0], x[1])
		}
	}
	list("Files", append(scenario.Kinds(), [2]string{scenario.Mapping, "what the columns of a flight log mean"}))
	list("What a command prints with --format json", outputs())
	return nil
}

func schemaNames(list [][2]string) (names []string) {
	for _, x := range list {
		names = append(names, x[0])
	}
	return names
}
