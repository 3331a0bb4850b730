package web

import (
	"context"
	"net/http"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
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

func (s *server) showKitLists(v *visit) error {
	bags, err := s.svc.Storeroom.Bags(v.ctx(), v.actor, inventory.BagFilter{}, inventory.Page{})
	if err != nil {
		return err
	}
	p := &kitListsPage{Base: Base{Title: message.M("Kit lists"), Caution: true}, MayKeep: v.may(inventory.ActKeepLists)}
	at := map[string]int{}
	for i, k := range v.kitLists() {
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
	Bags    []inventory.Bag
	Behind  int    // bags on an older version
	Made    bool   // this version was made a moment ago
	To      int    // the version that they move to
	Key     string // of the form that moves the bags on, where some are to be moved
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
	Need message.Message
}

func (s *server) showKitList(v *visit) error {
	k, err := s.kitList(v)
	if err != nil {
		return err
	}
	bags, err := s.svc.Storeroom.Bags(v.ctx(), v.actor, inventory.BagFilter{KitList: k.Code}, inventory.Page{})
	if err != nil {
		return err
	}
	kind, n := doneParam(v)
	p := &kitListPage{Base: Base{Title: message.Plain(k.Name), Caution: true}, List: k, Bags: bags,
		MayKeep: v.may(inventory.ActKeepLists), Made: kind == "version" && n == int64(k.Version)}
	p.addContents(k, v.itemsByCode(), v.kitLists(), v.may(inventory.ActHistory))
	waiting, err := s.svc.Lists.BagsToMove(v.ctx(), v.actor, k.Code)
	if err != nil {
		return err
	}
	for _, b := range bags {
		if b.KitListVersion < k.Version {
			p.Behind++
		}
		if p.MayKeep && waiting[b.Code] > 0 {
			p.To, p.Key = max(p.To, waiting[b.Code]), newKey()
		}
	}
	return s.render(v, http.StatusOK, p)
}

// moveBags moves the person's bags to the newest version of the list.
func (s *server) moveBags(v *visit) error {
	return v.once(func(ctx context.Context, _ string) (string, error) {
		_, err := s.svc.Lists.MoveBags(ctx, v.actor, v.Param("list"))
		return kitListPath(v.Param("list")), err
	})
}

func (p *kitListPage) addContents(k inventory.KitList, items map[string]inventory.Item, lists KitLists,
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
		p.Modules = append(p.Modules, KitModuleRow{Module: m, Name: lists.Named(m.KitList),
			Href: kitListPath(m.KitList)})
	}
	for _, r := range k.Rules {
		row := KitRuleRow{KitRule: r, Need: r.NeedCategory.Text()}
		if r.NeedItem != "" {
			row.Need = message.Plain(nameOf(items, r.NeedItem))
		}
		p.Rules = append(p.Rules, row)
	}
}

// kitList reads the newest version of the list that the address names.
func (s *server) kitList(v *visit) (inventory.KitList, error) {
	if v.Param("list") == "" {
		return inventory.KitList{}, nil // a new one
	}
	k, err := s.svc.Lists.KitList(v.ctx(), v.actor, v.Param("list"), 0)
	return k, notFound(err)
}
