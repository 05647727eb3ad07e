package scenario

import (
	"strings"

	"drystage/sim"
	"drystage/sim/quantity"
)

// measureShape is "[STAGE] QUANTITY".
type measureShape struct{}

func (measureShape) schema() map[string]any {
	return pattern(`^\s*(\S+\s+)?(` + strings.Join(sim.Quantities(), "|") + `)\s*$`)
}

func (measureShape) read(l *loader, n *node) any {
	if !l.isScalar(n, "[STAGE] QUANTITY") {
		return nil
	}
	m, err := parseMeasurand(n.text)
	if err != nil {
		l.reportQuantity(n.at, err)
		return nil
	}
	return m
}

// bound is "[STAGE] QUANTITY above|below VALUE"; it reads to a limit.
type bound struct{}

type limit struct {
	of    measurand
	below bool
	value float64
}

const boundForm = "[STAGE] QUANTITY above|below VALUE, as in tilt above 20 deg"

func (bound) schema() map[string]any { return pattern(`\s(above|below)\s`) }

func (bound) read(l *loader, n *node) any {
	if !l.isScalar(n, boundForm) {
		return nil
	}
	var lim limit
	s := strings.Join(strings.Fields(n.text), " ")
	left, right, is := strings.Cut(s, " above ")
	if !is {
		left, right, lim.below = strings.Cut(s, " below ")
	}
	err := wrongAnchor(n.text, boundForm, "")
	if is || lim.below {
		if lim.of, err = parseMeasurand(left); err == nil {
			lim.value, err = quantity.Parse(right, dimension(lim.of.quantity))
		}
	}
	if err != nil {
		l.reportQuantity(n.at, err)
		return nil
	}
	return lim
}
