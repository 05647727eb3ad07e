package vary

import (
	"drystage/harness"
	"drystage/sim/quantity"
)

// Round gives a value with at most so many digits in the unit that people write it in.
func Round(x harness.Value, digits int) harness.Value {
	x.Value = quantity.Round(x.Value, dimension(x.Unit), digits)
	return x
}
