package store

import (
	"strings"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"

	"stowkeeper/inventory"
)

type itemRow struct {
	Code             string `gorm:"primaryKey"`
	Name             string
	Search           string
	Category         string
	Unit             string
	TrackedBy        string
	Dated            bool
	SingleUse        bool
	Controlled       bool
	Strength         string
	Form             string
	Life             inventory.Life `gorm:"embedded"`
	InspectionPoints lines[string]
	InspectionNotes  lines[string]
	PreferredProduct ref
	LeadTimeDays     int
	Version          int64
}

func (itemRow) TableName() string { return "item" }

func itemRowOf(it inventory.Item) itemRow {
	row := convert[itemRow](it)
	row.Search, row.Version = folded(it.Code+"\n"+it.Name), 1
	return row
}

// folded is a text as it is searched: the engines fold case differently, so
// it is done here.
func folded(s string) string { return cases.Fold().String(norm.NFC.String(s)) }

// containing is a LIKE pattern for texts that contain s.
func containing(s string) string {
	return "%" + strings.NewReplacer(`\`, `\\`, "%", `\%`, "_", `\_`).Replace(s) + "%"
}

// Item returns one item.
func (r reader) Item(code string) (inventory.Item, error) {
	return take(r.gorm().Where("code = ?", code), "item", convert[inventory.Item, itemRow])
}

// Items lists items by code.
func (r reader) Items(f inventory.ItemFilter, p inventory.Page) ([]inventory.Item, error) {
	q := r.gorm()
	if len(f.Codes) > 0 {
		q = q.Where("code IN ?", f.Codes)
	}
	if f.Category != "" {
		q = q.Where("category = ?", string(f.Category))
	}
	if f.Text != "" {
		q = q.Where(`search LIKE ? ESCAPE '\'`, containing(folded(f.Text)))
	}
	return list(q, "list items", p, byCode, convert[inventory.Item, itemRow])
}

// AddItem adds an item at version 1.
func (w writer) AddItem(it inventory.Item) error {
	row := itemRowOf(it)
	return w.add("add item", "that item code is taken", &row)
}

// UpdateItem changes everything of an item but its code.
func (w writer) UpdateItem(it inventory.Item) (inventory.Item, error) {
	var out inventory.Item
	err := w.step("update item", "", func() (err error) {
		row := itemRowOf(it)
		if err := w.newer("item", "item", "code", it.Code, it.Version, map[string]any{
			"name": row.Name, "search": row.Search, "category": row.Category, "unit": row.Unit, "tracked_by": row.TrackedBy,
			"dated": row.Dated, "single_use": row.SingleUse, "controlled": row.Controlled, "strength": row.Strength,
			"form": row.Form, "made_months": it.Life.MadeMonths,
			"stowed_months": it.Life.StowedMonths, "exposed_days": it.Life.ExposedDays, "opened_days": it.Life.OpenedDays,
			"inspect_days": it.Life.InspectDays, "training_cycles": it.Life.TrainingCycles,
			"inspection_points": row.InspectionPoints, "inspection_notes": row.InspectionNotes,
			"preferred_product": row.PreferredProduct, "lead_time_days": row.LeadTimeDays,
		}); err != nil {
			return err
		}
		out, err = w.Item(it.Code)
		return err
	})
	return out, err
}
