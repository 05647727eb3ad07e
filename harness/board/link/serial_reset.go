package link

import (
	"context"
	"errors"
	"fmt"
	"time"
)

const (
	// DefaultBoot is how long a board may boot after a reset by a modem line. Common practice, no
	// source: boot loaders that wait for an upload take one to two seconds.
	DefaultBoot = 2 * time.Second
	// resetPulse is how long the line is held for a reset. Common practice, no source.
	resetPulse = 100 * time.Millisecond
)

// modem is what a reset needs of a serial port.
type modem interface {
	SetDTR(on bool) error
	SetRTS(on bool) error
	ResetInputBuffer() error
}

// reset pulses a modem line, waits until the board has booted, and drops what it sent meanwhile. On boards with this
// circuit a capacitor resets the processor when the line goes on.
func (p *port) reset(ctx context.Context, line string, boot time.Duration) error {
	m, ok := p.serial.(modem)
	if !ok {
		return errNoModem(line, errors.ErrUnsupported)
	}
	set := m.SetDTR
	if line == "rts" {
		set = m.SetRTS
	}
	if err := set(false); err != nil {
		return errNoModem(line, err)
	}
	werr := Wait(ctx, resetPulse)
	if err := set(true); err != nil {
		return errNoModem(line, err)
	}
	if werr != nil {
		return werr
	}
	if err := Wait(ctx, boot); err != nil {
		return err
	}
	return m.ResetInputBuffer()
}

func errNoModem(line string, err error) error {
	return fmt.Errorf("reset=%s: this port has no modem lines to reset a board by (%w); leave reset= out, or wire a reset pin of a rig", line, err)
}

// Wait waits for a time, or until ctx is done.
func Wait(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
