package main

import (
	"fmt"
	"io"
	"path"
	"slices"
	"strings"

	"drystage/harness"
	"drystage/harness/files/suite"
	"drystage/harness/run"
	"drystage/harness/spelling"
)

// folderProject is the project of the working folder, looked for once.
type folderProject struct {
	left   bool // --no-project
	looked bool
	found  *harness.Project
	wrong  error
}

// project gives the project of the working folder, nil for none.
func (d *console) project() (*harness.Project, error) {
	f := &d.folder
	if !f.left && !f.looked {
		f.looked = true
		if f.found, f.wrong = suite.Project("."); f.wrong != nil {
			f.wrong = status{misused, f.wrong}
		}
	}
	return f.found, f.wrong
}

// uses tells what a command takes from the project's file.
func (d *console) uses(p *harness.Project, parts ...string) {
	if len(parts) > 0 {
		sayf(d.err, "%s: %s\n", p.File, strings.Join(parts, ", "))
	}
}

// scenarios gives the paths that were named, or else the project's.
func (d *console) scenarios(paths []string) ([]string, error) {
	p, err := d.project()
	if p == nil || err != nil || len(paths) > 0 {
		return paths, err
	}
	d.uses(p, "scenarios in "+strings.Join(p.Scenarios, " "))
	return p.Scenarios, nil
}

// door is something in a project that reaches out of this process.
type door struct {
	place harness.Place
	what  string // it does
	flag  string // that does the same
}

// adopt takes boards, inputs and the rig from the project where the command line names none: a board for all roles on
// the command line means that none of it is taken. What opens a door is taken from a trusted project only.
func (c *benchFlags) adopt(d *console, plans []harness.Plan) error {
	p, err := d.project()
	if p == nil || err != nil {
		return err
	}
	return c.adoptFrom(d, p, plans)
}

// adoptUnfed does the same for commands that don't feed a receiver's input.
func (c *benchFlags) adoptUnfed(d *console, plans []harness.Plan) error {
	p, err := d.project()
	if p == nil || err != nil {
		return err
	}
	unfed := *p
	unfed.NMEA = nil
	return c.adoptFrom(d, &unfed, plans)
}

func (c *benchFlags) adoptFrom(d *console, p *harness.Project, plans []harness.Plan) error {
	if slices.ContainsFunc(c.Board, func(b string) bool { return roleOf(b) == "" }) {
		return nil
	}
	var used []string
	var doors []door
	for _, list := range []struct {
		of    []harness.ProjectAddress
		flags *[]string
		name  string
	}{{p.Boards, &c.Board, "board"}, {p.NMEA, &c.NMEA, "nmea"}} {
		given := slices.Clone(*list.flags)
		for _, x := range list.of {
			if flown, err := roleFlown(p, x, plans); err != nil || !flown || slices.ContainsFunc(given, func(g string) bool { return roleOf(g) == x.Role }) {
				if err != nil {
					return err
				}
				continue
			}
			flag := x.Role + "=" + run.In(path.Dir(p.File), x.Address)
			*list.flags, used = append(*list.flags, flag), append(used, list.name+" "+flag)
			if what := opens(x.Address); what != "" {
				doors = append(doors, door{x.Place, what, "--" + list.name + " " + flag})
			}
		}
	}
	if c.Rig == "" && p.Rig != "" {
		c.Rig, used = p.Rig, append(used, "rig "+p.Rig)
		doors = append(doors, door{p.RigPlace, "uses the rig " + p.Rig, "--rig " + p.Rig})
	}
	if err := trusted(p, doors); err != nil {
		return err
	}
	d.uses(p, used...)
	return nil
}

// roleOf is the role of a flag ROLE=ADDR; empty for a plain address.
func roleOf(flag string) string {
	role, _, is := strings.Cut(flag, "=")
	if !is || strings.ContainsAny(role, ":/?. ") {
		return ""
	}
	return role
}

// opens says what an address does that the built-in board does not; empty for that one.
func opens(address string) string {
	switch kind, _, _ := strings.Cut(address, ":"); kind {
	case "mock":
		return ""
	case "exec":
		return "starts a program, " + address
	case "avr":
		return "starts an emulator, " + address
	case "serial":
		return "opens a port, " + address
	}
	return "opens a socket, " + address
}

// roleFlown says whether a plan has a board of the role. One that no scenario of the project has is wrong: another board
// would fly in its place.
func roleFlown(p *harness.Project, x harness.ProjectAddress, plans []harness.Plan) (bool, error) {
	if slices.Contains(rolesOf(plans), x.Role) {
		return true, nil
	}
	all, err := projectPlans(p)
	if err != nil {
		return false, err
	}
	known := rolesOf(all)
	if slices.Contains(known, x.Role) {
		return false, nil
	}
	return false, status{misused, harness.Problem{Place: x.Place, Found: fmt.Sprintf("an address of %q", x.Role), Wanted: "a board of the scenarios: " + strings.Join(known, ", "),
		Hint: spelling.Hint(strings.ToLower(x.Role), known)}}
}

func rolesOf(plans []harness.Plan) (roles []string) {
	for i := range plans {
		for _, b := range plans[i].Boards {
			if !slices.Contains(roles, b.Role) {
				roles = append(roles, b.Role)
			}
		}
	}
	return roles
}

// trusted refuses doors of a project that the user has not trusted as it is.
func trusted(p *harness.Project, doors []door) error {
	if len(doors) == 0 {
		return nil
	}
	list, err := suite.LoadTrust()
	if err != nil {
		return status{refused, errorf("refused: whether %s is trusted can't be read: %w", p.File, err)}
	}
	now, once, err := list.Has(p)
	if err != nil {
		return status{refused, err}
	}
	if !now {
		why := "you have not trusted it"
		if once {
			why = "it, or its rig, has changed since you trusted it"
		}
		return status{refused, errorf("refused: %s: this project %s, and %s; look at the file, then say `drystage trust`, or name what you mean on the command line: %s",
			doors[0].place.String(), doors[0].what, why, doors[0].flag)}
	}
	if here := path.Dir(p.File); here != "." {
		for _, x := range doors {
			if strings.HasPrefix(x.what, "starts a program") {
				return status{refused, errorf("refused: %s: this project %s; its programs are started in its own folder: cd %s", x.place.String(), x.what, here)}
			}
		}
	}
	return nil
}

// projectPlans gives the scenarios of the project.
func projectPlans(p *harness.Project) ([]harness.Plan, error) {
	s, err := suite.Load(p.Scenarios, io.Discard)
	return s.Plans, err
}

// plainest gives the scenario of the project that shows how a board of a role is used: the first one without faults, or
// else the first. Without a role, that of any board.
func plainest(p *harness.Project, role string) (*harness.Plan, error) {
	plans, err := projectPlans(p)
	if err != nil {
		return nil, err
	}
	var found *harness.Plan
	for i := range plans {
		x := &plans[i]
		if x.Log.File != "" || role != "" && !slices.Contains(rolesOf(plans[i:i+1]), role) {
			continue
		}
		if len(x.Setup.Faults) == 0 {
			return x, nil
		}
		if found == nil {
			found = x
		}
	}
	if found == nil {
		return nil, wrongUse("%s: no scenario of this project flies a board %s: %s", p.File, role, strings.Join(rolesOf(plans), ", "))
	}
	return found, nil
}

// scenarioOf gives the scenario that says which channel each output of a board is: the one that was named, the
// project's, or the shipped one.
func scenarioOf(d *console, named, role string) (string, error) {
	p, err := d.project()
	switch {
	case named != "" || err != nil:
		return named, err
	case p == nil:
		return "scenarios/nominal.yaml", nil
	}
	x, err := plainest(p, role)
	if err != nil {
		return "", err
	}
	d.uses(p, "outputs as in "+x.File)
	return x.File, nil
}

// outlets takes the folder for records and the page from the project when its scenarios are flown, where the command line
// names none.
func (c *benchCmd) outlets(d *console) error {
	p, err := d.project()
	if p == nil || err != nil || len(c.Paths) > 0 {
		return err
	}
	var used []string
	for _, x := range []struct {
		flag       *string
		from, what string
	}{{&c.Out, p.Records, "records in "}, {&c.HTML, p.Page, "page "}} {
		if *x.flag != "" || x.from == "" || x.flag == &c.HTML && (c.Repeat != 1 || c.UntilFail) {
			continue
		}
		if err := suite.WithinProject(p, x.from); err != nil {
			return status{refused, errorf("refused: %w", err)}
		}
		*x.flag, used = x.from, append(used, x.what+x.from)
	}
	d.uses(p, used...)
	return nil
}
