package report

import (
	"drystage/harness"
	"drystage/harness/show/schema"
)

type (
	object   = schema.Object
	array    = schema.Array
	optional = schema.Optional
)

func when(there bool, value any) optional             { return schema.When(there, value) }
func omitZero[T comparable](x T) optional             { return schema.OmitZero(x) }
func list[T any](items []T, of func(*T) object) array { return schema.List(items, of) }

// answer is an answer as a word.
func answer(a harness.Answer) schema.Word {
	return schema.OneOf(a.String(), harness.Pass.String(), harness.Fail.String(), harness.Unsure.String())
}
