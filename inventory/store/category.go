package store

import "stowkeeper/inventory"

type categoryRow struct {
	Name string `gorm:"primaryKey"`
}

func (categoryRow) TableName() string { return "category" }

// Categories returns the owner's list by name.
func (r reader) Categories() ([]inventory.Category, error) {
	var rows []categoryRow
	if err := r.gorm().Order("name").Find(&rows).Error; err != nil {
		return nil, failure("list categories", "", err)
	}
	return mapped(rows, func(c categoryRow) inventory.Category { return inventory.Category(c.Name) }), nil
}

// AddCategory adds to the owner's list.
func (w writer) AddCategory(c inventory.Category) error {
	return w.add("add category", "that category is in the list already", &categoryRow{Name: string(c)})
}

// mapped turns rows into values; no rows give nil.
func mapped[R, V any](rows []R, value func(R) V) []V {
	if len(rows) == 0 {
		return nil
	}
	out := make([]V, len(rows))
	for i, row := range rows {
		out[i] = value(row)
	}
	return out
}
