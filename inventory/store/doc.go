// Package store keeps everything that package inventory declares in its Store interface, in a SQLite file or in
// PostgreSQL. It is the one place that knows gorm, SQL and migrations.
//
// One set of migration texts is rendered for either engine. Single rows go through gorm and row structs of this
// package; stock, sums and bulk readings are SQL written out. The database is the truth for every constraint: its
// error codes are turned into the kinds of package inventory in errors.go.
//
// What a method promises is said at inventory.Reader and inventory.Writer, and here only what comes to it.
package store
