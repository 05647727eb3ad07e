package contract_test

import (
	"fmt"

	"drystage/harness/board/contract"
)

// A board answers TICK. The line adds a byte of garbage and the host finds its way again.
func Example() {
	var board contract.Encoder
	line := board.Done(nil, &contract.Done{Time: 5000, Armed: 1})
	line = append(line, 0x7f, 0)
	line = board.Done(line, &contract.Done{Time: 10000, Armed: 1})

	host := contract.NewDecoder(contract.FromBoard)
	for {
		f, rest, ok := host.Next(line)
		if !ok {
			break
		}
		var m contract.Done
		if err := m.Decode(f.Payload); err == nil {
			fmt.Println(f.Code, contract.FromMicros(m.Time))
		}
		line = rest
	}
	fmt.Println("bad:", host.Counts.Bad(), "lost:", host.Counts.Lost)
	// Output:
	// DONE 0.005 s
	// DONE 0.010 s
	// bad: 1 lost: 0
}
