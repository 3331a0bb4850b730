// Package alike finds the fields that two structs have in common, so that one becomes the other.
package alike

import (
	"reflect"
	"slices"
	"sync"
)

// Wrapped is a struct whose only field is what it stands for: that field goes over in its place.
type Wrapped interface{ Wraps() }

// Pair is where a field is in each of two structs.
type Pair struct{ From, To []int }

var known sync.Map // by both types

// Pairs lists the fields of two types by one name that are of one kind.
func Pairs(from, to reflect.Type) []Pair {
	key := [2]reflect.Type{from, to}
	if known, ok := known.Load(key); ok {
		return known.([]Pair)
	}
	var out []Pair
	for _, f := range reflect.VisibleFields(to) {
		g, both := from.FieldByName(f.Name)
		f, g = opened(f), opened(g)
		if both && !f.Anonymous && f.Type.Kind() == g.Type.Kind() && g.Type.ConvertibleTo(f.Type) {
			out = append(out, Pair{g.Index, f.Index})
		}
	}
	known.Store(key, out)
	return out
}

// opened is what a field stands for, in the place of the field.
func opened(f reflect.StructField) reflect.StructField {
	if f.Type != nil && f.Type.Implements(reflect.TypeFor[Wrapped]()) {
		f.Type, f.Index = f.Type.Field(0).Type, append(slices.Clone(f.Index), 0)
	}
	return f
}
