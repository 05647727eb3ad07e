package conformance

import (
	"strings"

	"drystage/harness/board/contract"
)

// says quotes the contract's table: "NAME" gives a message's meaning, "NAME.field" a field's. What the
// table lacks gives the name with a question mark, which a test refuses.
func says(names ...string) string {
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
