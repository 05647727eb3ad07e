package campaign

import (
	"fmt"

	"github.com/fxamacker/cbor/v2"

	"drystage/harness"
	"drystage/harness/judge/dispersion"
)

// maxResult bounds the bytes of a result when unpacked.
const maxResult = 16 << 20

// Flown is what came of one flight.
type Flown struct {
	Verdict harness.Verdict
	Landed  []dispersion.Place // where its stages lie
	Record  string             // its name in the store of records; empty: it was not asked for
}

// result is what came of a batch, as a worker sends it.
type result struct {
	Worker  string
	Refused string // why the campaign can't be flown at all; empty: it was
	Flown   []Flown
}

// bounds keep a result of another machine within what a result can be.
var bounds = cbor.DecOptions{MaxNestedLevels: 16, MaxArrayElements: 1 << 16, MaxMapPairs: 1 << 12}

func (r *result) encode() ([]byte, error) {
	b, err := cbor.Marshal(r)
	if err != nil {
		return nil, err
	}
	return pack(b)
}

// decodeResult reads a result of a batch of n flights.
func decodeResult(packed []byte, n int) (result, error) {
	var r result
	b, err := unpack(packed, maxResult)
	if err != nil {
		return r, err
	}
	mode, err := bounds.DecMode()
	if err != nil {
		return r, err
	}
	if err := mode.Unmarshal(b, &r); err != nil {
		return r, err
	}
	if r.Refused == "" && len(r.Flown) != n {
		return r, fmt.Errorf("it has %d flights: wanted %d", len(r.Flown), n)
	}
	return r, nil
}
