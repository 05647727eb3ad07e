package link

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"
)

// Options are what a link needs beyond its address.
type Options struct {
	Baud   int       // of a serial port whose address names none; 0: 115200
	Stderr io.Writer // gets the standard error of a program started by exec:; its end is in error messages in any case
	// Ports lists the serial ports among which a USB identity is looked for; nil: Ports.
	Ports func() ([]Port, error)
}

// DefaultBaud is the speed of a serial line that nobody named.
const DefaultBaud = 115200

// Forms lists the kinds of address that Open takes.
func Forms() []string {
	return []string{"serial:PORT?baud=N", "exec:PROGRAM ARGS", "unix:PATH", "tcp:HOST:PORT"}
}

// Check says what is wrong with the form of an address, without opening it.
func Check(address string) error {
	kind, rest, _ := strings.Cut(address, ":")
	if !slices.Contains(kinds(), kind) {
		return fmt.Errorf("link: address %q has an unknown kind%s; use one of: %s",
			address, hint(kind, kinds()), strings.Join(Forms(), ", "))
	}
	if strings.TrimSpace(rest) == "" {
		return fmt.Errorf("link: address %q ends too early; write it as %s", address, formOf(kind))
	}
	return nil
}

// Open opens a link. The context limits the opening only. The program of an exec: address is started without a shell,
// and is stopped by Close.
func Open(ctx context.Context, address string, opt Options) (Link, error) {
	if err := ctx.Err(); err != nil {
		return nil, fmt.Errorf("link: %s: %w", address, err)
	}
	if err := Check(address); err != nil {
		return nil, err
	}
	switch kind, rest, _ := strings.Cut(address, ":"); kind {
	case "serial":
		return openSerial(ctx, rest, opt)
	case "exec":
		return openExec(rest, opt)
	default:
		return dial(ctx, kind, rest)
	}
}

func kinds() (ks []string) {
	for _, f := range Forms() {
		kind, _, _ := strings.Cut(f, ":")
		ks = append(ks, kind)
	}
	return ks
}

func formOf(kind string) string {
	for _, f := range Forms() {
		if strings.HasPrefix(f, kind+":") {
			return f
		}
	}
	return ""
}
