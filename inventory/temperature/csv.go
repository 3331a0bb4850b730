package temperature

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"stowkeeper/inventory/table"
)

// Bounds of one file.
const (
	MaxReadings = 600_000 // more than one a minute for a year
	maxBefore   = 50      // rows that a logger writes before its header
)

// columns are where a file has what.
type columns struct{ date, time, celsius int } // date is -1 where the time holds it

// Read reads the readings of a logger from a CSV file: a header with a column for the time, or for date and time, and
// one for the temperature, and below it a row for each reading; rows without a temperature are left out, as are other
// columns and what stands before the header. Times without an offset are local to the zone. Refuses: a
// *table.BadError that names the row and what to write.
func Read(file table.CSV, zone *time.Location) ([]Reading, error) {
	rows, err := file.Open("")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var in columns
	for n, found := 0, false; !found; n++ {
		row, err := rows.Next()
		if err == io.EOF || n == maxBefore {
			return nil, &table.BadError{Fix: "name a column time and one celsius"}
		}
		if err != nil {
			return nil, err
		}
		if in, found, err = header(row); err != nil {
			return nil, err
		}
	}
	var out []Reading
	for {
		row, err := rows.Next()
		if err == io.EOF {
			return out, nil
		}
		if err != nil {
			return nil, err
		}
		r, again, err := in.reading(row, zone)
		switch {
		case err != nil:
			return nil, err
		case again == 0:
			continue
		case len(out) == MaxReadings:
			return nil, &table.BadError{Row: row.Number, Fix: fmt.Sprintf("leave at most %d readings", MaxReadings)}
		case len(out) > 0 && r.At <= out[len(out)-1].At:
			if r.At = again; r.At <= out[len(out)-1].At {
				return nil, &table.BadError{Row: row.Number, Fix: "put the readings in the order of their times, each time once"}
			}
		}
		out = append(out, r)
	}
}

// header finds the columns by their names, and whether the row is the header.
func header(row table.Row) (columns, bool, error) {
	in := columns{-1, -1, -1}
	for i, c := range row.Cells {
		name := strings.ToLower(strings.TrimSpace(c.Text))
		switch {
		case name == "date":
			in.date = i
		case strings.HasPrefix(name, "time") || strings.HasPrefix(name, "date"): // time stamp, date and time
			if in.time < 0 {
				in.time = i
			}
		case in.celsius < 0 && (strings.HasPrefix(name, "temp") || strings.Contains(name, "celsius") || name == "°c"):
			if in.celsius = i; strings.Contains(name, "°f") || strings.Contains(name, "fahrenheit") {
				return in, false, &table.BadError{Row: row.Number, Fix: "give temperatures in °C"}
			}
		}
	}
	if in.time < 0 {
		in.time, in.date = in.date, -1
	}
	return in, in.time >= 0 && in.celsius >= 0, nil
}

// text is a cell, empty where the row is too short.
func text(row table.Row, column int) string {
	if column < 0 || column >= len(row.Cells) {
		return ""
	}
	return strings.TrimSpace(row.Cells[column].Text)
}

// reading reads a row, and says when its time of day came again, which is the same time save where the clock of the
// zone was set back; 0 where there is no temperature in it.
func (in columns) reading(row table.Row, zone *time.Location) (r Reading, again int64, err error) {
	celsius := text(row, in.celsius)
	if celsius == "" {
		return Reading{}, 0, nil
	}
	degrees, err := strconv.ParseFloat(strings.ReplaceAll(celsius, ",", "."), 64)
	if err != nil || !(degrees >= -200 && degrees <= 200) { // not a number is neither
		return Reading{}, 0, &table.BadError{Row: row.Number, Fix: "enter degrees Celsius from -200 to 200"}
	}
	first, second, ok := moment(strings.TrimSpace(text(row, in.date)+" "+text(row, in.time)), zone)
	if !ok {
		return Reading{}, 0, &table.BadError{Row: row.Number, Fix: "enter date and time like 2027-06-14T07:30"}
	}
	return Reading{first, degrees}, second, nil
}

// moment reads a time as ISO 8601 has it, with T or a space, after 1970. Day and month in another order are not
// guessed. In the hour that comes twice when clocks are set back a local time has two moments.
func moment(text string, zone *time.Location) (first, second int64, ok bool) {
	text = strings.Replace(text, " ", "T", 1)
	for _, layout := range []string{"2006-01-02T15:04", "2006-01-02T15:04:05"} {
		if at, err := time.ParseInLocation(layout, text, zone); err == nil {
			first, second = at.Unix(), at.Unix()
			if before := at.Add(-time.Hour); before.Format(layout) == at.Format(layout) {
				first = before.Unix()
			} else if after := at.Add(time.Hour); after.Format(layout) == at.Format(layout) {
				second = after.Unix()
			}
			return first, second, at.Year() > 1970
		}
	}
	for _, layout := range []string{time.RFC3339, "2006-01-02T15:04Z07:00"} {
		if at, err := time.Parse(layout, text); err == nil {
			return at.Unix(), at.Unix(), at.Year() > 1970
		}
	}
	return 0, 0, false
}
