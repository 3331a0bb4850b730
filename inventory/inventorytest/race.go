//go:build race

package inventorytest

func init() { Raced = true }
