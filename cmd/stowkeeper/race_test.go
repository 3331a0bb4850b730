//go:build race

package main

// Under the race detector everything takes ten times as long, SQLite above all.
func init() { batch, writesARound = 200, 4 }
