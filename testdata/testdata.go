// Package testdata carries the invented demo scenario, so that the program can load it from wherever it runs. The
// stations, people, suppliers and numbers in it exist nowhere else.
package testdata

import "embed"

// Demo holds the scenario's tables, one CSV file each.
//
//go:embed demo/*.csv
var Demo embed.FS

// KitStandards holds published contents of first-aid kits, each with where it was read.
//
//go:embed kit-standards.json
var KitStandards []byte
