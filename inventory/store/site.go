package store

import "stowkeeper/inventory"

type siteRow struct {
	Code      string `gorm:"primaryKey"`
	Name      string
	Timezone  string
	ChainSeq  int64
	ChainHash string
}

func (siteRow) TableName() string { return "site" }

func (s siteRow) value() inventory.Site {
	return inventory.Site{Code: s.Code, Name: s.Name, Timezone: s.Timezone}
}

func (r reader) site(code string) (siteRow, error) {
	var row siteRow
	err := r.gorm().Where("code = ?", code).Take(&row).Error
	return row, missing("read site", "site", err)
}

// Site returns one site.
func (r reader) Site(code string) (inventory.Site, error) {
	row, err := r.site(code)
	return row.value(), err
}

// Sites returns every site by code.
func (r reader) Sites() ([]inventory.Site, error) {
	var rows []siteRow
	if err := r.gorm().Order("code").Find(&rows).Error; err != nil {
		return nil, failure("list sites", "", err)
	}
	return mapped(rows, siteRow.value), nil
}

// Head returns the end of a site's chain.
func (r reader) Head(site string) (inventory.Head, error) {
	row, err := r.site(site)
	return inventory.Head{Site: row.Code, Seq: row.ChainSeq, Hash: row.ChainHash}, err
}

// AddSite adds a site with an empty chain.
func (w writer) AddSite(s inventory.Site) error {
	return w.step("add site", "that site code is taken", func() error {
		return w.gorm().Create(&siteRow{Code: s.Code, Name: s.Name, Timezone: s.Timezone}).Error
	})
}
