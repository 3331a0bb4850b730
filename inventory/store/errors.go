package store

import (
	"errors"
	"fmt"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/store/fault"
)

// failure turns an engine's error into one of package inventory. op names the operation for the log; taken is what
// people are told when a key is taken. What is not known stays internal.
func failure(op, taken string, err error) error {
	var own *inventory.Error
	if err == nil || errors.As(err, &own) {
		return err
	}
	kind, text := inventory.Conflict, message.M(taken)
	switch fault.Of(err) {
	case fault.Unique:
	case fault.Foreign:
		text = message.M("it names something that does not exist, or that belongs to something else")
	case fault.Check:
		text = message.M("a value is outside what can be stored")
	case fault.Race:
		kind, text = inventory.Unavailable, message.M("others were changing the same things; try again")
	case fault.Busy:
		kind, text = inventory.Unavailable, message.M("the database cannot be reached just now; try again")
	case fault.Broken:
		kind, text = inventory.Unavailable, message.M("the database is damaged or cannot be written: tell its administrator")
	case fault.Full:
		kind, text = inventory.StorageFull, message.M("no room left on the service's disk: tell its administrator")
	default:
		return fmt.Errorf("%s: %w", op, err)
	}
	return &inventory.Error{Kind: kind, Message: text, Cause: fmt.Errorf("%s: %w", op, err)}
}

// notFound names for the log what a store was asked for.
func notFound(thing string) error {
	return &inventory.Error{Kind: inventory.NotFound, Message: message.M("not found"), Cause: errors.New("no " + thing)}
}

func stale(thing string) error {
	return &inventory.Error{Kind: inventory.Stale, Message: message.M("changed meanwhile: reload and repeat"),
		Cause: errors.New("another " + thing)}
}
