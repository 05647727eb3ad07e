package vary

import (
	"drystage/harness"
	"drystage/sim/quantity"
)

// Round gives a value rounded to a number of digits in the unit of scenario files.
func Round(x harness.Value, digits int) harness.Value {
	x.Value = quantity.Round(x.Value, quantity.DimensionOf(x.Unit), digits)
	return x
}
