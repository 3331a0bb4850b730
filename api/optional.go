package api

import (
	"reflect"

	"github.com/danielgtaylor/huma/v2"
)

// optional is a parameter for which leaving it out means something else than its zero value.
type optional[T any] struct {
	value T
	set   bool
}

// Receiver is where huma reads the parameter into.
func (o *optional[T]) Receiver() reflect.Value {
	return reflect.ValueOf(&o.value).Elem()
}

// Schema is that of the value.
func (o optional[T]) Schema(r huma.Registry) *huma.Schema {
	return huma.SchemaFromType(r, reflect.TypeFor[T]())
}

// OnParamSet is how huma says that the parameter was sent.
func (o *optional[T]) OnParamSet(isSet bool, _ any) { o.set = isSet }
