package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	"drystage/harness/judge/mutants"
	"drystage/harness/judge/mutants/source"
)

// mutated is a board with its mutants, and the program that flies them.
type mutated struct {
	of       string
	root     string // of the repository
	dir      string // temporary
	schemata *source.Schemata
	reasons  []mutants.Reason
	until    time.Time         // no mutant begins after it; zero: no limit
	flown    []string          // scenarios; empty: all
	own      string            // the folder of the reference's own scenarios, flown after the shipped ones; empty: none
	overlay  map[string]string // by the file in the repository, the one that takes its place
}

// builtIn is the decision logic of the built-in board. Left out are its side of the contract (sessions, settings, answers:
// the points of the contract test those), the tests of its outputs, series of functions that package math has too, what
// only tells people something, and what only its known defects do.
var builtIn = source.GoScope{
	Files: strings.Fields("apogee.go arming.go attitude.go board.go computer.go estimate.go liftoff.go memory.go outputs.go plain.go recovery.go samples.go settings.go staging.go stuck.go"),
	Leave: strings.Fields("New SetClock ownTime Pass Silence Feed frame sync welcome name " +
		"hello setting tick done accept thousandths report reportWhenDue noteRefusal watchUpperMotor " +
		"naturalLog exponential joined quadratic cubic cosine fixed16 corruptMemory beginPulses keepRawHeight fix openMainOnLostWire outputDelay log"),
	Tells:  strings.Fields("log logf report reportWhenDue noteRefusal watchUpperMotor corruptMemory beginPulses openMainOnLostWire misreadAxis misreadJolt keepRawHeight"),
	Switch: "defect",
	Fields: strings.Fields("noGate rawHeight rawMax rawFalls samplesSinceMax lastFall countedSpeed gnss defectDone mainAt due nextReport noThrustReported upperBurned stagedAt outputDelay tumbling zeroSamples"),
}

const (
	mockPath = "drystage/harness/board/mock"
	hook     = `package main

import (
	"drystage/harness/board/link"
	"drystage/harness/board/mock"
)

func init() {
	selectMutant, notedMutants = mock.SelectMutant, mock.NotedMutants
	newBoard = func() link.Device {
		b, err := mock.New("")
		if err != nil {
			panic(err)
		}
		return b
	}
}
`
)

// prepare makes the mutants of a board.
func prepare(ctx context.Context, of string) (*mutated, error) {
	root, err := output(ctx, "", "go", "list", "-m", "-f", "{{.Dir}}")
	if err != nil {
		return nil, err
	}
	p := &mutated{of: of, root: strings.TrimSpace(root), own: filepath.Join(strings.TrimSpace(root), "firmware-contract", "reference", "scenarios"), overlay: map[string]string{}}
	if p.dir, err = os.MkdirTemp("", "drystage-mutants"); err != nil {
		return nil, err
	}
	switch of {
	case "go":
		err = p.prepareGo(ctx)
	case "c":
		err = p.prepareC(ctx)
	default:
		err = fmt.Errorf("--of %s: wanted go or c", of)
	}
	if err != nil {
		p.remove()
		return nil, err
	}
	return p, nil
}

func (p *mutated) remove() { os.RemoveAll(p.dir) }

func (p *mutated) prepareGo(ctx context.Context) (err error) {
	p.reasons = reasonsGo
	listed, err := output(ctx, p.root, "go", "list", "-f", `{{.Dir}}{{range .GoFiles}} {{.}}{{end}}`, mockPath)
	if err != nil {
		return err
	}
	names := strings.Fields(listed)
	var files []source.Source
	for _, n := range names[1:] {
		text, err := os.ReadFile(filepath.Join(names[0], n))
		if err != nil {
			return err
		}
		files = append(files, source.Source{Name: filepath.Join(names[0], n), Text: string(text)})
	}
	exports, err := output(ctx, p.root, "go", "list", "-export", "-deps", "-f", "{{.ImportPath}} {{.Export}}", mockPath)
	if err != nil {
		return err
	}
	where := map[string]string{}
	for line := range strings.Lines(exports) {
		path, file, _ := strings.Cut(strings.TrimSpace(line), " ")
		where[path] = file
	}
	p.schemata, err = source.OfGo(mockPath, files, builtIn, func(path string) (io.ReadCloser, error) { return os.Open(where[path]) })
	if err != nil {
		return err
	}
	for _, s := range p.schemata.Sources {
		if err := p.replace(s.Name, s.Text); err != nil {
			return err
		}
	}
	return p.replace(filepath.Join(p.root, "cmd", "mutants", "hook_mutants.go"), hook)
}

// replace puts a text in the place of a file of the repository, which may not exist there.
func (p *mutated) replace(file, text string) error {
	to := filepath.Join(p.dir, fmt.Sprintf("%d-%s", len(p.overlay), filepath.Base(file)))
	p.overlay[file] = to
	return os.WriteFile(to, []byte(text), 0o600)
}

// build builds this program again, with the mutants.
func (p *mutated) build(ctx context.Context) error {
	if p.of == "c" {
		if err := p.buildC(ctx); err != nil {
			return err
		}
	}
	text, err := json.Marshal(map[string]any{"Replace": p.overlay})
	if err != nil {
		return err
	}
	list := filepath.Join(p.dir, "overlay.json")
	if err := os.WriteFile(list, text, 0o600); err != nil {
		return err
	}
	_, err = output(ctx, p.root, "go", "build", "-gcflags="+mockPath+"=-l", "-overlay", list, "-o", p.program(), "./cmd/mutants")
	return err
}

func (p *mutated) program() string { return filepath.Join(p.dir, "fly") }

// output runs a program in a folder and gives what it writes.
func output(ctx context.Context, dir, program string, args ...string) (string, error) {
	cmd := exec.CommandContext(ctx, program, args...)
	cmd.Dir = dir
	var words strings.Builder
	cmd.Stderr = &words
	out, err := cmd.Output()
	if err != nil {
		return "", fmt.Errorf("%s %s: %w\n%s", program, strings.Join(args, " "), err, words.String())
	}
	return string(out), nil
}
