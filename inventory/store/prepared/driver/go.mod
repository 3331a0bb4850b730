module github.com/glebarez/go-sqlite

go 1.26.0

require modernc.org/sqlite v1.62.0
