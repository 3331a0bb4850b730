//go:build race

package api_test

// Under the race detector a walk takes more than a second.
func init() { trainingWalks = "20" }
