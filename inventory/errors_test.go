package inventory_test

import (
	"context"
	"errors"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/message"
)

func TestKindOf(t *testing.T) {
	for _, kind := range inventory.ErrorKinds {
		err := inventory.Refuse(kind, "sorry, {1}", "no")
		assert.Equal(t, kind, inventory.KindOf(err))
		assert.Equal(t, kind, inventory.KindOf(fmt.Errorf("at the desk: %w", err)), "found through wrapping")
		assert.Equal(t, string(kind)+": sorry, no", err.Error())
	}
	assert.Zero(t, inventory.KindOf(nil), "the zero kind is for nil")
	assert.NotContains(t, inventory.ErrorKinds, inventory.ErrorKind(""), "and for nothing else")
	assert.Equal(t, inventory.Internal, inventory.KindOf(&inventory.Error{Message: message.M("no kind was given")}))
	assert.False(t, inventory.KindOf(nil).Fixable())
	assert.Equal(t, inventory.Internal, inventory.KindOf(errors.New("disk on fire")))
	assert.Equal(t, inventory.Internal, inventory.KindOf(context.Canceled))
}

func TestErrorCarriesCauseForTheLog(t *testing.T) {
	cause := errors.New("disk on fire")
	err := &inventory.Error{Kind: inventory.Internal, Cause: cause}
	assert.ErrorIs(t, err, cause)
	assert.Equal(t, "internal: disk on fire", err.Error())
}

func TestInvalidField(t *testing.T) {
	err := inventory.InvalidField("qty", "give 1 to {1}", 5)
	inventorytest.RequireFields(t, err, "qty")
	assert.Equal(t, "invalid: check the fields marked below; qty: give 1 to 5", err.Error())
}
