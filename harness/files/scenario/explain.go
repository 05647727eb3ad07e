package scenario

import (
	"fmt"
	"slices"
	"strings"

	"drystage/sim"
	"drystage/sim/quantity"
)

// topic is something that Explain knows.
type topic struct {
	word string
	of   *table
	day  bool // of the site, the weather, the pad and the canopies
	set  bool // of what differs from flight to flight
}

// topics lists every kind of fault, every part of a board with the blocks inside it, the blocks of a
// board and a scenario that hold them, and the blocks of the day.
func topics() (list []topic) {
	for _, t := range faultShape.tables {
		list = append(list, topic{word: t.rows[0].key, of: t})
	}
	for _, r := range sensorsTable.rows {
		list = append(list, topic{word: r.key, of: r.is.(*table)})
		for _, inner := range r.is.(*table).rows {
			if t := tableIn(inner.is); t != nil {
				list = append(list, topic{word: r.key + "." + inner.key, of: t})
			}
		}
	}
	list = append(list, topic{word: "sensors", of: sensorsTable}, topic{word: "output", of: outputTable}, topic{word: "nmea", of: nmeaTable}, topic{word: "repeat", of: repeatTable}, topic{word: "setting", of: settingTable})
	list = append(list, topic{word: "swing", of: swingTable, day: true}, topic{word: "vibration", of: vibrationTable}, topic{word: "vibration.tones", of: toneTable})
	list = append(list, topic{word: "vary", of: varyTable, set: true}, topic{word: "set", of: setTable, set: true})
	return append(list, dayTopics()...)
}

// dayTopics are the launch site and the day's weather with the blocks of its wind.
func dayTopics() []topic {
	list := []topic{{word: "site", of: siteTable, day: true}, {word: "weather", of: weatherTable, day: true}, {word: "wind", of: windTable, day: true}}
	list = append(list, innerTopics("wind", windTable)...)
	list = append(list, topic{word: "pad", of: padTable, day: true})
	return append(list, innerTopics("pad", padTable)...)
}

// innerTopics are the blocks inside one of the day's.
func innerTopics(word string, of *table) (list []topic) {
	for _, r := range of.rows {
		if t := tableIn(r.is); t != nil {
			list = append(list, topic{word: word + "." + r.key, of: t, day: true})
		}
	}
	return list
}

// tableIn gives the block that a shape is, or is a list of.
func tableIn(s shape) *table {
	switch s := s.(type) {
	case *table:
		return s
	case listShape:
		return tableIn(s.of)
	}
	return nil
}

// Topics lists the words that Explain knows: kinds of fault, parts of a board, then the day.
func Topics() (words []string) {
	for _, t := range topics() {
		words = append(words, t.word)
	}
	return words
}

// Explain tells what a kind of fault or a part of a board means: each of its keys with what it may be,
// its default, its sane range, and a figure that people meet; so for the launch site and the wind. It
// prints the very tables by which files are read; for `vary` and `set` also all that can vary. The word "faults" gives every kind of fault, "parts"
// every part, "weather" the day with all of its wind, "anchors" what a fault can be tied to.
func Explain(word string) (string, error) {
	var out strings.Builder
	switch word {
	case "anchors":
		return anchorPage, nil
	case "warnings":
		return warningPage(), nil
	}
	for _, t := range topics() {
		_, fault := t.of.rows[0].is.(name)
		if t.word == word || word == "faults" && fault || word == "parts" && !fault && !t.day && !t.set || word == "weather" && t.day {
			if out.Len() > 0 {
				out.WriteByte('\n')
			}
			t.explain(&out)
		}
	}
	if out.Len() > 0 {
		return out.String(), nil
	}
	all := append([]string{"faults", "parts", "weather", "anchors", "warnings"}, Topics()...)
	hint := nearest(word, all)
	if hint == "" {
		hint = "the words are " + choices(all)
	}
	return "", fmt.Errorf("scenario: found %s, wanted a kind of fault, a part of a board, a block of the weather, vary or warnings; %s", quote(word), hint)
}

func (t topic) explain(out *strings.Builder) {
	fmt.Fprintf(out, "%s\n  %s\n", t.word, t.of.doc)
	for i, r := range t.of.rows {
		def := "optional"
		switch {
		case r.need:
			def = "required"
		case r.def != "":
			def = "default " + r.def
		}
		fmt.Fprintf(out, "\n  %s: %s, %s\n    %s\n", r.key, wants(r.is), def, r.doc)
		if i > 0 && r.key == "by" {
			t.ranges(out, r.is)
		}
		if r.typical != "" {
			fmt.Fprintf(out, "    typical: %s\n", r.typical)
		}
	}
	if t.set {
		explainVaried(out)
	}
}

// explainVaried tells the names of all that can vary.
func explainVaried(out *strings.Builder) {
	fmt.Fprintf(out, "\n  what can vary, by its name:\n")
	for _, f := range parameterForms() {
		what := ""
		switch {
		case f.is == (quantityShape{}):
		case f.is.dim == quantity.Number:
			what = wants(number{min: f.is.min, max: f.is.max}) + "; "
		default:
			what = wants(f.is) + "; "
		}
		fmt.Fprintf(out, "\n  %s\n    %s%s\n", f.form, what, f.doc)
	}
}

// ranges tells what an amount may be for each part.
func (t topic) ranges(out *strings.Builder, s shape) {
	k := sim.FaultKind(1 + slices.Index(sim.FaultKinds(), t.word))
	if _, is := s.(amount); !is {
		return
	}
	for i, word := range sim.PartNames() {
		p := sim.Part(i + 1)
		if dim := parts[p].dim; k.AppliesTo(p) {
			if k == sim.Drift {
				dim = parts[p].rate
			}
			fmt.Fprintf(out, "    %s: up to %s\n", word, quantity.Text(parts[p].most, dim))
		}
	}
}

// wants says what a value may be.
func wants(s shape) string {
	switch s := s.(type) {
	case quantityShape:
		return s.want() + " (" + strings.Join(quantity.Units(s.dim), ", ") + ")"
	case number:
		if s.whole {
			return s.want()
		}
		return fmt.Sprintf("a number from %v to %v", s.min, s.max)
	case vector:
		return fmt.Sprintf("a list of three, each %s of at most %s either way", s.dim, quantity.Text(s.max, s.dim))
	case amount:
		return "a quantity"
	case words:
		return choices(s)
	case name:
		return s.want()
	case anchor:
		return "an instant (`drystage lint --explain anchors`)"
	case matrix:
		return "three rows of three numbers"
	case mounting:
		return mountingForm
	case textLine:
		return s.want()
	case settingShape:
		return "a number, a quantity, true or false"
	case effectShape:
		return effectForm
	case variedName:
		return variedNameForm
	case instant:
		return instantForm
	case *table:
		return "a block of " + strings.Join(s.keys(), ", ")
	case listShape:
		return fmt.Sprintf("%s, each %s", listShape{least: max(1, s.least), most: s.most}.want(), wants(s.of))
	}
	return "a value"
}

const anchorPage = `anchors
  When something happens: ` + "`from` of a fault, `at` of a command, `from` and `to` of an expectation." + `

  EVENT, EVENT + SPAN, EVENT - SPAN, or SPAN alone, counted from the start of the run
    the flight: start, launch, liftoff, rail_exit, separation, max_q, apogee, landing
    a stage: STAGE.ignition, STAGE.burnout, STAGE.separation, STAGE.apogee, STAGE.landing
    a parachute: STAGE.DEVICE, at line stretch
    a crossing: [STAGE] QUANTITY rising|falling through VALUE, as in "height rising through 300 m"
      or "sustainer tilt rising above 20 deg" and "speed falling below 50 m/s"
    a board: output BOARD.OUTPUT, when it switches on
    the operator: command arm, command disarm, command stage

  A fault before its event takes the time from a rehearsal: a flight without boards in which
  everything happens when the builder means it to. What a board or the operator does has none.
`

// warningPage tells what a flight can be warned of.
func warningPage() string {
	var outside, practice strings.Builder
	for _, k := range sim.WarningKinds() {
		to := &practice
		if k.OutsideModel() {
			to = &outside
		}
		fmt.Fprintf(to, "    %s: %s (limit: %s)\n", k, k.Text(), k.Basis())
	}
	return "warnings\n  What is said of a flight itself, by `fly` and with each verdict.\n\n" +
		"  The flight has left its model, and what it shows may not be so. The verdict is unsure, unless the\n" +
		"  scenario names it under `accepts`, as in accepts: [canopy_speed]\n" + outside.String() +
		"\n  A figure is beyond codes or practice. It is told and changes no verdict.\n" + practice.String()
}
