package demo

import (
	"encoding/csv"
	"fmt"
	"io/fs"
	"strconv"
	"strings"
)

// row is one line of a table, by column name.
type row map[string]string

// table reads a CSV file with a header line.
func table(fsys fs.FS, name string) ([]row, error) {
	f, err := fsys.Open("demo/" + name + ".csv")
	if err != nil {
		return nil, err
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil {
		return nil, fmt.Errorf("demo table %s: %w", name, err)
	}
	var rows []row
	for _, line := range lines[1:] {
		r := row{}
		for i, column := range lines[0] {
			r[column] = line[i]
		}
		rows = append(rows, r)
	}
	return rows, nil
}

// num reads a whole number; an empty cell is 0. The tables are ours, so a cell
// that is no number is a fault of the program.
func (r row) num(column string) int {
	if r[column] == "" {
		return 0
	}
	n, err := strconv.Atoi(r[column])
	if err != nil {
		panic("demo table: column " + column + " holds no number")
	}
	return n
}

func (r row) yes(column string) bool      { return r[column] == "yes" }
func (r row) list(column string) []string { return strings.Fields(r[column]) }
