package rig

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"time"

	"drystage/harness"
)

// guard is a separate process that makes the pins safe when this process has ended. It reads from a pipe, which the
// system closes however this process ends.
type guard struct {
	cmd  *exec.Cmd
	pipe io.WriteCloser
}

const (
	guardReady        = "ready\n"
	guardRelease      = "release\n"
	guardStartTimeout = 10 * time.Second
)

// startGuard starts a guard and waits until it is ready.
func startGuard(argv []string, spec *harness.Rig) (*guard, error) {
	g := &guard{cmd: exec.Command(argv[0], argv[1:]...)}
	ownSession(g.cmd) // Ctrl-C must not end the guard
	g.cmd.Stderr = os.Stderr
	var err error
	if g.pipe, err = g.cmd.StdinPipe(); err != nil {
		return nil, fmt.Errorf("the pins' guard: %w", err)
	}
	out, err := g.cmd.StdoutPipe()
	if err != nil {
		return nil, fmt.Errorf("the pins' guard: %w", err)
	}
	if err := g.cmd.Start(); err != nil {
		return nil, fmt.Errorf("the pins' guard can't be started: %w", err)
	}
	b, err := json.Marshal(spec)
	if err == nil {
		_, err = g.pipe.Write(append(b, '\n'))
	}
	if err == nil {
		err = awaitReady(out)
	}
	if err != nil {
		g.pipe.Close()
		_ = g.cmd.Process.Kill()
		return nil, errors.Join(fmt.Errorf("the pins' guard does not stand ready: %w", err), g.cmd.Wait())
	}
	return g, nil
}

func awaitReady(out io.Reader) error {
	got := make(chan error, 1)
	go func() {
		word, err := bufio.NewReader(out).ReadString('\n')
		if err == nil && word != guardReady {
			err = fmt.Errorf("it said %q", word)
		}
		got <- err
	}()
	select {
	case err := <-got:
		return err
	case <-time.After(guardStartTimeout):
		return errors.New("it says nothing")
	}
}

// release tells the guard that the pins are safe, and waits for its end.
func (g *guard) release() error {
	_, err := io.WriteString(g.pipe, guardRelease)
	return errors.Join(err, g.pipe.Close(), g.cmd.Wait())
}

// Guard is the main function of the guard process. It reads a rig from in, writes that it is ready to out, and waits
// until it is released or in ends. If in ends without a release, it drives every drive pin to its safe level and says
// so on words.
func Guard(in io.Reader, out, words io.Writer) error {
	raisePriority()
	r := bufio.NewReader(in)
	first, err := r.ReadBytes('\n')
	var spec harness.Rig
	if err == nil {
		err = json.Unmarshal(first, &spec)
	}
	if err != nil {
		return fmt.Errorf("rig: the guard was given no rig: %w", err)
	}
	h, err := hostOf(&spec)
	if err != nil {
		return fmt.Errorf("rig: the guard: %w", err)
	}
	defer h.close()
	if _, err := io.WriteString(out, guardReady); err != nil {
		return err
	}
	if word, _ := r.ReadString('\n'); word == guardRelease {
		return nil
	}
	noticed := time.Now()
	err = makeSafe(h, &spec)
	fmt.Fprintf(words, "drystage: the tool has ended without making the rig safe; its guard has driven %d pins to their safe levels, within %s\n",
		len(spec.Drives), time.Since(noticed).Round(time.Microsecond))
	return err
}

// makeSafe takes the pins that the ended process held. The system may need a moment to release them.
func makeSafe(h host, spec *harness.Rig) error {
	const tries, pause = 100, 2 * time.Millisecond
	var err error
	for range tries {
		err = nil
		for _, d := range inSafeOrder(spec.Drives) {
			if _, oerr := h.output(d.Name, level(d.Pin, d.SafeOn)); oerr != nil {
				err = errors.Join(err, fmt.Errorf("rig: drive %s is NOT safe: %w; cut the supply by hand", d.Label, oerr))
			}
		}
		if err == nil {
			return nil
		}
		time.Sleep(pause)
	}
	return err
}
