package contract

import (
	"fmt"
	"strings"
)

// The marks between which SPEC.md holds what SpecTables gives.
const (
	SpecBegin = "<!-- begin: made from harness/board/contract/table.go by go generate; change the table -->\n"
	SpecEnd   = "<!-- end -->\n"
)

// SpecTables gives the part of SPEC.md that is made from the table: all messages, their fields and offsets, and the
// share of usual serial lines that usual sensors take.
func SpecTables() []byte {
	var b strings.Builder
	b.WriteString(Markdown())
	usual := Rates{IMU: 200, Baro: 50, GNSS: 10, Battery: 10}
	ticked := usual
	ticked.Tick = usual.IMU
	fmt.Fprintf(&b, "\n### Share of a serial line (8N1)\n\nIMU at %g Hz, BARO at %g, GNSS at %g, BATTERY at %g; TICK at the IMU's rate.\n\n"+
		"| baud | samples | samples and TICK |\n| --- | --- | --- |\n", usual.IMU, usual.Baro, usual.GNSS, usual.Battery)
	for _, baud := range []int{57600, 115200, 230400, 460800, 921600} {
		fmt.Fprintf(&b, "| %d | %.0f %% | %.0f %% |\n", baud, 100*LineUse(baud, usual), 100*LineUse(baud, ticked))
	}
	return []byte(b.String())
}
