package run

import (
	"context"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/link"
	"drystage/harness/board/mock"
	"drystage/harness/spelling"
	"drystage/sim"
)

// addresses says where the board of each role is.
type addresses struct {
	all    string
	given  bool // all was named by the user
	byRole map[string]string
}

var roleFirst = regexp.MustCompile(`^([A-Za-z][A-Za-z0-9_-]*)=(.*)$`)

// addressesOf reads arguments, each ADDR or ROLE=ADDR, for boards of some roles. An argument that no board uses is
// wrong: another board would fly in its place.
func addressesOf(args []string, roles []string) (addresses, error) {
	s := addresses{all: "mock", byRole: map[string]string{}}
	for _, a := range args {
		role, address := splitAddress(a)
		if err := CheckAddress(address); err != nil {
			return s, err
		}
		if err := s.put(role, address, roles); err != nil {
			return s, err
		}
	}
	if s.given && len(roles) > 0 && !slices.ContainsFunc(roles, func(r string) bool { return s.byRole[r] == "" }) {
		return s, harness.Errorf("--board %s is used by no board: each of %s has an address of its own; leave it out", s.all, strings.Join(roles, ", "))
	}
	return s, nil
}

// splitAddress takes ROLE=ADDR apart; the role is empty for ADDR alone.
func splitAddress(arg string) (role, address string) {
	if m := roleFirst.FindStringSubmatch(arg); m != nil {
		return m[1], m[2]
	}
	return "", arg
}

// BuiltInOnly refuses arguments, each ADDR or ROLE=ADDR, for boards that aren't built in: such a one is a program that
// would be started or a port that would be opened.
func BuiltInOnly(args []string) error {
	for _, a := range args {
		if _, address := splitAddress(a); address != "mock" && !strings.HasPrefix(address, "mock:") {
			return harness.Errorf("board %s is not built in: wanted mock or mock:DEFECT", a)
		}
	}
	return nil
}

// CheckBoards refuses an argument, ADDR or ROLE=ADDR, that names no board.
func CheckBoards(args []string) error {
	for _, a := range args {
		_, address := splitAddress(a)
		if err := CheckAddress(address); err != nil {
			return err
		}
	}
	return nil
}

// ProgramSums gives the beginning of the SHA-256 of each program and firmware that arguments, each ADDR or ROLE=ADDR, name, as far
// as their files can be read.
func ProgramSums(args []string) (out []string) {
	for _, a := range args {
		_, address := splitAddress(a)
		kind, name, _ := strings.Cut(address, ":")
		switch kind {
		case "exec":
			name, _, _ = strings.Cut(name, " ")
		case "avr":
			name, _, _ = strings.Cut(name, "?")
		default:
			continue
		}
		if sum := sumOf(name); sum != "unknown" {
			out = append(out, filepath.Base(name)+" "+sum)
		}
	}
	return out
}

// Addresses tells where the boards of plans are that arguments, each ADDR or ROLE=ADDR, name.
func Addresses(args []string, plans []harness.Plan) (out []harness.BoardAddress, err error) {
	all := roles(plans)
	s, err := addressesOf(args, all)
	for _, role := range all {
		out = append(out, harness.BoardAddress{Role: role, Address: s.of(role)})
	}
	return out, err
}

// put notes one address; role is empty for all roles.
func (s *addresses) put(role, address string, roles []string) error {
	switch other, twice := s.byRole[role]; {
	case role == "" && s.given:
		return harness.Errorf("two boards for every role: %s and %s; name a role as in --board %s=%s", s.all, address, roles[len(roles)-1], address)
	case role == "":
		s.all, s.given = address, true
	case !slices.Contains(roles, role):
		return harness.Errorf("--board %s=%s: found no board %s, wanted one of %s%s", role, address, role, strings.Join(roles, ", "), near(role, roles))
	case twice:
		return harness.Errorf("two boards for %s: %s and %s; wanted one", role, other, address)
	default:
		s.byRole[role] = address
	}
	return nil
}

// near is a hint with the nearest word, for the end of an error; empty without one.
func near(wrong string, words []string) string {
	if h := spelling.Hint(strings.ToLower(wrong), words); h != "" {
		return "; " + h
	}
	return ""
}

// CheckAddress says what is wrong with the form of an address.
func CheckAddress(a string) error {
	if kind, defect, _ := strings.Cut(a, ":"); kind == "mock" {
		_, err := mock.New(defect)
		return err
	}
	if isAVR(a) {
		_, err := avrOf(a)
		return err
	}
	if err := link.Check(a); err != nil {
		return harness.Errorf("%w, %s, mock, mock:DEFECT", err, avrForm)
	}
	return nil
}

func (s *addresses) list() []string {
	out := []string{s.all}
	for _, a := range s.byRole {
		out = append(out, a)
	}
	return out
}

func (s *addresses) of(role string) string {
	if a, ok := s.byRole[role]; ok {
		return a
	}
	return s.all
}

// real says that some board may have real outputs.
func (s *addresses) real() bool {
	return slices.ContainsFunc(s.list(), func(a string) bool { return !builtIn(a) && !isAVR(a) && !strings.HasPrefix(a, "exec:") })
}

// external says that some board is not in this process.
func (s *addresses) external() bool {
	return slices.ContainsFunc(s.list(), func(a string) bool { return !builtIn(a) })
}

func builtIn(address string) bool { return address == "mock" || strings.HasPrefix(address, "mock:") }

// wired says that an address is a serial port with something at its other end. The pseudo-terminal of an emulator
// has no outputs that could burn.
func wired(address string) bool {
	kind, rest, _ := strings.Cut(address, ":")
	if kind != "serial" {
		return false
	}
	name, _, _ := strings.Cut(rest, "?")
	if real, err := filepath.EvalSymlinks(name); err == nil {
		name = real
	}
	return !strings.HasPrefix(name, "/dev/pts/")
}

// openBoards opens the boards of a flight, all or none; in real time when there is a clock.
func (b *Bench) openBoards(ctx context.Context, f *Flight, clock func() sim.Time) ([]board.Board, error) {
	p := f.Plan
	opt := board.Options{Timeout: b.opt.Timeout, Limit: b.opt.AnswerLimit}
	if b.host != nil {
		opt.HostLatency = b.host.Worst
	}
	var boards []board.Board
	for i, x := range p.Boards {
		l, err := b.link(ctx, x, b.address(f, x.Role), b.CountsFile(p, x.Role))
		if err != nil {
			closeAll(boards)
			return nil, harness.Errorf("board %s: %w", x.Role, err)
		}
		opt.SupplySwitched, opt.Boot = false, 0
		if b.Rig != nil && b.Rig.Cuts(x.Role) {
			opt.SupplySwitched, opt.Boot = true, time.Duration(p.Setup.Bays[i].Boot)
		}
		if clock != nil {
			boards = append(boards, board.NewRealTime(l, x, &p.Setup.Bays[i], opt, clock))
			continue
		}
		boards = append(boards, board.NewClient(l, x, &p.Setup.Bays[i], opt))
	}
	return boards, nil
}

// HostLatency gives the greatest delay of this computer since a time; nil: all boards are in this process.
func (b *Bench) HostLatency() func(since time.Time) time.Duration {
	if b.host == nil {
		return nil
	}
	return b.host.Worst
}

// CountsFile is where the emulated chip of a role counts what it executes of its firmware in a flight; empty: nowhere.
func (b *Bench) CountsFile(p *harness.Plan, role string) string {
	if b.opt.Counts == "" || !isAVR(b.boards.of(role)) {
		return ""
	}
	return filepath.Join(b.opt.Counts, p.Name+"."+role+".counts")
}

// Link opens the line to one board.
func (b *Bench) Link(ctx context.Context, x harness.Board) (link.Link, error) {
	return b.link(ctx, x, b.boards.of(x.Role), "")
}

func (b *Bench) link(ctx context.Context, x harness.Board, address, counts string) (link.Link, error) {
	if b.opt.Link != nil {
		return b.opt.Link(x.Role)
	}
	if builtIn(address) {
		_, defect, _ := strings.Cut(address, ":")
		g, err := mock.New(defect)
		if err != nil {
			return nil, err
		}
		return link.Memory(g), nil
	}
	if isAVR(address) {
		a, err := avrOf(address)
		if err != nil {
			return nil, err
		}
		if address, err = a.command(counts); err != nil {
			return nil, err
		}
	}
	return b.dial(ctx, address, x.Baud)
}

// dial opens a line to a board or its receiver's input. There is no other way to anything beside this machine's
// files and pins.
func (b *Bench) dial(ctx context.Context, address string, baud int) (link.Link, error) {
	if b.opt.Dial != nil {
		return b.opt.Dial(address, baud)
	}
	return link.Open(ctx, address, link.Options{Baud: baud})
}

func closeAll(boards []board.Board) {
	for _, b := range boards {
		b.Close()
	}
}
