package inventory

import (
	"strconv"
)

// ExportRow is one row of a list that is written, by column.
type ExportRow map[string]string

// NumText writes a number, and nothing for none.
func NumText(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// FlagText writes yes, and nothing for no.
func FlagText(b bool) string {
	if b {
		return "yes"
	}
	return ""
}

func (k KitList) Head(row ExportRow) {
	row["name"], row["edition"], row["source"] = k.Name, k.Edition, k.Source
	row["valid_from"], row["valid_to"] = k.ValidFrom.String(), k.ValidTo.String()
	row["sealed"], row["seal_warns"] = FlagText(k.Sealed), FlagText(k.SealWarns)
	row["seal_check_hours"], row["full_check_days"], row["min_remaining_days"] = NumText(k.SealCheckHours),
		NumText(k.FullCheckDays), NumText(k.MinRemainingDays)
}
