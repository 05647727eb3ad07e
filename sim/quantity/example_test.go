package quantity_test

import (
	"fmt"

	"drystage/sim/quantity"
)

func Example() {
	x, err := quantity.Parse("54 mm", quantity.Length)
	fmt.Println(x, err, quantity.Text(x, quantity.Length))
	_, err = quantity.Parse("54", quantity.Length)
	fmt.Println(err)
	// Output:
	// 0.054 <nil> 0.054 m
	// quantity: found "54", which has no unit, wanted a length in one of m, mm, cm, km, ft, in; add the unit, as in "54 m"
}
