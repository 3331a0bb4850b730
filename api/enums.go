package api

import (
	"slices"

	"github.com/danielgtaylor/huma/v2"

	"stowkeeper/inventory"
)

// The closed lists below are too long for a field's tag.

// enumOf are the texts of a closed list, as a schema has them.
func enumOf[T ~string](all []T) []any {
	out := make([]any, len(all))
	for i, v := range all {
		out[i] = string(v)
	}
	return out
}

// reasonAsked is the reason of movements in a query.
type reasonAsked string

// Schema lists every reason.
func (reasonAsked) Schema(huma.Registry) *huma.Schema {
	return &huma.Schema{Type: huma.TypeString, Enum: enumOf(inventory.Reasons)}
}

// TransformSchema lists the reasons for which people move units: what comes in is received.
func (Move) TransformSchema(_ huma.Registry, s *huma.Schema) *huma.Schema {
	given := slices.DeleteFunc(slices.Clone(inventory.Reasons), func(r inventory.Reason) bool {
		return r == inventory.ReasonReceipt || r == inventory.ReasonOpening
	})
	s.Properties["reason"].Enum = enumOf(given)
	s.Properties["reason"].PrecomputeMessages()
	return s
}

// TransformSchema lists every kind of error.
func (Problem) TransformSchema(_ huma.Registry, s *huma.Schema) *huma.Schema {
	s.Properties["kind"].Enum = enumOf(inventory.ErrorKinds)
	return s
}
