//go:build race

package labels

func init() { raced = true }
