package harness

// Wiring says what is connected to an emulated chip whose firmware doesn't speak the contract.
type Wiring struct {
	Chip  string   // as the emulator names it
	Clock float64  // Hz
	Wires []string // what is connected, in the words of the bridge (firmware-contract/ports/avr/bridge/wiring.h)
}
