package web

import (
	"net/http"

	"stowkeeper/inventory"
)

type kitListsPage struct {
	Base
	Rows    []KitListRow
	MayKeep bool
}

// KitListRow is the newest version of a kit list and the person's bags on it.
type KitListRow struct {
	inventory.KitList
	Href         string
	Bags, Behind int // bags on any version, and those on an older one
}

func kitListPath(code string) string { return "/kit-lists/" + code }

// showKitLists lists the newest version of each kit list.
func (s *server) showKitLists(v *visit) error {
	lists := v.kitLists()
	bags, err := s.svc.Storeroom.Bags(v.ctx(), v.actor, inventory.BagFilter{}, inventory.Page{})
	if err != nil {
		return err
	}
	p := &kitListsPage{Base: Base{Title: "Kit lists", Caution: true}, MayKeep: v.may(inventory.ActKeepLists)}
	at := map[string]int{}
	for i, k := range lists {
		at[k.Code] = i
		p.Rows = append(p.Rows, KitListRow{KitList: k, Href: kitListPath(k.Code)})
	}
	for _, b := range bags {
		row := &p.Rows[at[b.KitList]]
		row.Bags++
		if b.KitListVersion != row.Version {
			row.Behind++
		}
	}
	return s.render(v, http.StatusOK, p)
}

type kitListPage struct {
	Base
	List    inventory.KitList
	Lines   []KitLineRow
	Modules []KitModuleRow
	Rules   []KitRuleRow
	Bags    []KitBagRow
	Behind  int  // bags on an older version
	Made    bool // this version was made a moment ago
	MayKeep bool
}

// KitLineRow is a line of a kit list with its items' names.
type KitLineRow struct {
	inventory.Line
	Name, Href string
	Others     []string // names of what it accepts
}

// KitModuleRow is a kind of module with its list's name.
type KitModuleRow struct {
	inventory.Module
	Name, Href string
}

// KitRuleRow is a kit rule in words.
type KitRuleRow struct {
	inventory.KitRule
	Need string
}

// KitBagRow is a bag on the list.
type KitBagRow struct {
	inventory.Bag
	Href, Change string // Change leads to where it is moved to the newest version
}

func (s *server) showKitList(v *visit) error {
	k, err := s.kitList(v)
	if err != nil {
		return err
	}
	lists := v.kitLists()
	bags, err := s.svc.Storeroom.Bags(v.ctx(), v.actor, inventory.BagFilter{KitList: k.Code}, inventory.Page{})
	if err != nil {
		return err
	}
	kind, n := doneParam(v)
	p := &kitListPage{Base: Base{Title: k.Name, Caution: true}, List: k, MayKeep: v.may(inventory.ActKeepLists),
		Made: kind == "version" && n == int64(k.Version)}
	p.addContents(k, v.itemsByCode(), lists, v.may(inventory.ActHistory))
	for _, b := range bags {
		row := KitBagRow{Bag: b, Href: bagPath(b.Code)}
		if b.KitListVersion != k.Version {
			row.Change = "/bags/" + b.Code
			p.Behind++
		}
		p.Bags = append(p.Bags, row)
	}
	return s.render(v, http.StatusOK, p)
}

func (p *kitListPage) addContents(k inventory.KitList, items map[string]inventory.Item, lists []inventory.KitList,
	mayItem bool) {
	for _, l := range k.Lines {
		row := KitLineRow{Line: l, Name: nameOf(items, l.Item)}
		if mayItem {
			row.Href = "/items/" + l.Item
		}
		for _, a := range l.Accepts {
			row.Others = append(row.Others, nameOf(items, a))
		}
		p.Lines = append(p.Lines, row)
	}
	for _, m := range k.Modules {
		row := KitModuleRow{Module: m, Name: m.KitList, Href: kitListPath(m.KitList)}
		for _, other := range lists {
			if other.Code == m.KitList {
				row.Name = other.Name
			}
		}
		p.Modules = append(p.Modules, row)
	}
	for _, r := range k.Rules {
		row := KitRuleRow{KitRule: r, Need: string(r.NeedCategory)}
		if r.NeedItem != "" {
			row.Need = nameOf(items, r.NeedItem)
		}
		p.Rules = append(p.Rules, row)
	}
}

// kitList reads the newest version of the list that the address names.
func (s *server) kitList(v *visit) (inventory.KitList, error) {
	k, err := s.svc.Lists.KitList(v.ctx(), v.actor, v.Param("list"), 0)
	if inventory.KindOf(err) == inventory.NotFound {
		return k, inventory.Errorf(inventory.NotFound, "no such kit list")
	}
	return k, err
}
