package conformance

import (
	"strings"

	"drystage/harness/board/contract"
)

// quote quotes the contract's table: "NAME" gives the meaning of a message, "NAME.field" that of a field. A name that
// is not in the table gives a question mark, which a test refuses.
func quote(names ...string) string {
	var out []string
	for _, name := range names {
		message, field, ofField := strings.Cut(name, ".")
		words := "?"
		for _, m := range contract.Table() {
			if m.Name != message {
				continue
			}
			if !ofField {
				words = m.Meaning
			}
			for _, f := range m.Fields {
				if ofField && f.Name == field {
					words = f.Meaning
				}
			}
		}
		out = append(out, name+": "+words)
	}
	return strings.Join(out, " | ")
}
