//go:build race

package inventory_test

func init() { raced = true }
