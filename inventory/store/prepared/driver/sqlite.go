// Package sqlite stands in for the driver that gorm's dialect of SQLite asks for, which parses each statement again at
// every execution. The dialect needs the type of its errors and nothing else. Both register the same name with
// database/sql, so only one of them can be in a program.
package sqlite

import "modernc.org/sqlite"

// Error is what the engine answers.
type Error = sqlite.Error
