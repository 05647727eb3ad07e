package record

import (
	"bytes"
	"compress/flate"
	"encoding/binary"
	"errors"
	"fmt"
	"io"

	"gonum.org/v1/gonum/spatial/r3"

	"drystage/harness"
	"drystage/sim"
)

const (
	injectBlock    = 'I'
	perInjectBlock = 1 << 16
	mostInjected   = 16 << 20
)

// packedInjection is a sim.Injection in fixed sizes.
type packedInjection struct {
	At         sim.Time
	Fault, Bay int16
	Part       sim.Part
	Dropped    bool
	Was, Is    r3.Vec
}

func writeInjected(w io.Writer, list []sim.Injection) error {
	for len(list) > 0 {
		n := min(len(list), perInjectBlock)
		packed := make([]packedInjection, n)
		for i, x := range list[:n] {
			packed[i] = packedInjection{x.At, int16(x.Fault), int16(x.Bay), x.Part, x.Dropped, x.Was, x.Is}
		}
		var out bytes.Buffer
		z, err := flate.NewWriter(&out, flate.BestSpeed)
		if err != nil {
			return err
		}
		if err := errors.Join(binary.Write(z, binary.LittleEndian, packed), z.Close()); err != nil {
			return err
		}
		if err := block(w, injectBlock, out.Bytes()); err != nil {
			return err
		}
		list = list[n:]
	}
	return nil
}

// readInjected adds a block of injections to a record that is to have so many in all.
func readInjected(content []byte, rec *harness.Record, all int) error {
	packed := make([]packedInjection, min(perInjectBlock, all-len(rec.Injected)))
	z := io.LimitReader(flate.NewReader(bytes.NewReader(content)), largestTick)
	if err := binary.Read(z, binary.LittleEndian, packed); err != nil {
		return fmt.Errorf("a block of injections that can't be unpacked: %w", err)
	}
	if n, err := z.Read(make([]byte, 1)); n > 0 || err != io.EOF {
		return errors.New("a block of injections that holds more than its injections")
	}
	s := &rec.Plan.Setup
	for _, x := range packed {
		if int(x.Fault) >= len(s.Faults) || int(x.Bay) >= len(s.Bays) || x.Fault < 0 || x.Bay < 0 {
			return fmt.Errorf("an injection by fault %d into board %d, of which there are %d and %d", x.Fault, x.Bay, len(s.Faults), len(s.Bays))
		}
		rec.Injected = append(rec.Injected, sim.Injection{At: x.At, Fault: int(x.Fault), Bay: int(x.Bay), Part: x.Part, Dropped: x.Dropped, Was: x.Was, Is: x.Is})
	}
	return nil
}
