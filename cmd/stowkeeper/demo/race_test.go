//go:build race

package demo_test

// Under the race detector loading a year takes a minute or two: once will do.
func init() { ends = ends[:1] }
