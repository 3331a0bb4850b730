//go:build race

package photo_test

func init() { raced = true }
