package store

import (
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/amount"
	"stowkeeper/inventory/store/fact"
)

type itemRow struct {
	Code                                                    string `gorm:"primaryKey"`
	Name, Search, Category, Unit, TrackedBy, Strength, Form string
	Dated, SingleUse, Controlled                            bool
	Life                                                    inventory.Life `gorm:"embedded"`
	Content                                                 amount.Content `gorm:"embedded;embeddedPrefix:content_"`
	InspectionPoints, InspectionNotes                       lines[string]
	PreferredProduct                                        ref
	LeadTimeDays, Reserve                                   int
	Version                                                 int64
}

func itemRowOf(it inventory.Item) *itemRow {
	row := convert[itemRow](it)
	row.Search, row.Version = fact.Folded(it.Code+"\n"+it.Name), 1
	return &row
}

// containing is a LIKE pattern for texts that contain s.
func containing(s string) string {
	return "%" + strings.NewReplacer(`\`, `\\`, "%", `\%`, "_", `\_`).Replace(s) + "%"
}

func (r reader) Item(code string) (inventory.Item, error) {
	return take[inventory.Item, itemRow](r, "item", "code = ?", code)
}

func (r reader) Items(f inventory.ItemFilter, p inventory.Page) ([]inventory.Item, error) {
	var w where
	among(&w, "code IN ?", f.Codes)
	given(&w, "category = ?", f.Category)
	if f.Text != "" {
		w.and(`search LIKE ? ESCAPE '\'`, containing(fact.Folded(f.Text)))
	}
	return list[inventory.Item, itemRow](r, "list items", w, p, byCode)
}

func (w writer) AddItem(it inventory.Item) error {
	return w.add("add item", "that item code is taken", itemRowOf(it))
}

// UpdateItem changes everything of an item but its code.
func (w writer) UpdateItem(it inventory.Item) (inventory.Item, error) {
	return change(w, "update item", func() error { return w.newer(itemRowOf(it), it.Version) },
		func() (inventory.Item, error) { return w.Item(it.Code) })
}

type categoryRow struct {
	Name string `gorm:"primaryKey"`
}

// Categories returns the owner's list by name.
func (r reader) Categories() ([]inventory.Category, error) {
	rows, err := list[categoryRow, categoryRow](r, "list categories", where{}, inventory.Page{}, listKey{column: "name"})
	return mapped(rows, func(c categoryRow) inventory.Category { return inventory.Category(c.Name) }), err
}

func (w writer) AddCategory(c inventory.Category) error {
	return w.add("add category", "that category is in the list already", &categoryRow{Name: string(c)})
}
