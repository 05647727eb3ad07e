package examine

import "io"

// Fit is how a log compares with the simulated flight of a vehicle.
type Fit struct{}

func (e *examiner) fit() error { return nil }

func (f *Fit) text(w io.Writer) {}
