package web

import (
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// section is where people look for something: who may do the action sees it. Its pages are those whose address begins
// with one of the paths; it leads to the first.
type section struct {
	text   message.Message
	action inventory.Action
	paths  []string
}

// sectionGroups is the navigation in three groups: the day's work, what needs
// watching, and what is done at a desk. A phone shows the first, then the rest.
var sectionGroups = [][]section{
	{
		{message.M("Bags"), inventory.ActSee, []string{"/board", "/b", "/vehicle", "/lent"}},
		{message.M("Store"), inventory.ActKeepStock, []string{"/store", "/bags", "/transfers", "/counts", "/paper"}},
		{message.M("Receive"), inventory.ActKeepStock, []string{"/receive", "/deliveries", "/scanner"}},
		{message.M("Review"), inventory.ActKeepStock, []string{"/review"}},
		{message.M("Stock"), inventory.ActHistory, []string{"/stock", "/lots", "/items"}},
	},
	{
		{message.M("Controlled drugs"), inventory.ActSee, []string{"/register"}},
		{message.M("Devices"), inventory.ActSee, []string{"/devices", "/classes"}},
		{message.M("Away"), inventory.ActSee, []string{"/away"}},
		{message.M("Recalls"), inventory.ActHistory, []string{"/notices"}},
	},
	{
		{message.M("Labels"), inventory.ActLabel, []string{"/labels"}},
		{message.M("Reports"), inventory.ActReport, []string{"/today", "/report", "/year", "/orders", "/checks", "/flows"}},
	},
}

// adminSections are the pages of Admin, and its own navigation.
var adminSections = []section{
	{message.M("Import"), inventory.ActKeepLists, []string{"/imports"}},
	{message.M("Export"), inventory.ActKeepLists, []string{"/exports"}},
	{message.M("Stations"), inventory.ActKeepLists, []string{"/stations"}},
	{message.M("People"), inventory.ActKeepPeople, []string{"/people"}},
	{message.M("Terminals"), inventory.ActKeepPeople, []string{"/terminals"}},
	{message.M("Tokens"), inventory.ActKeepPeople, []string{"/tokens"}},
	{message.M("Service"), inventory.ActKeepPeople, []string{servicePath}},
	{message.M("Kit lists"), inventory.ActHistory, []string{"/kit-lists", "/published"}},
	{message.M("Items"), inventory.ActHistory, []string{"/products"}},
	{message.M("Places"), inventory.ActHistory, []string{"/places"}},
	{message.M("History"), inventory.ActHistory, []string{"/history", "/recorded"}},
}

// fewSections fit a phone in one group.
const fewSections = 4

// Sections is the navigation of a page in its groups; a few sections, such as crew have, are one group.
func (b *Base) Sections() [][]NavLink {
	var out [][]NavLink
	n := 0
	for _, group := range sectionGroups {
		links := b.may(group)
		n += len(links)
		out = append(out, links)
	}
	if admin := b.Admin(); len(admin) > 0 {
		here := slices.ContainsFunc(admin, func(l NavLink) bool { return l.Current })
		out[len(out)-1] = append(out[len(out)-1], NavLink{admin[0].Href, message.M("Admin"), here})
	}
	if n <= fewSections {
		return [][]NavLink{slices.Concat(out...)}
	}
	return out
}

// Admin is the navigation among the pages of Admin.
func (b *Base) Admin() []NavLink { return b.may(adminSections) }

// may keeps the sections that the page's person may go to.
func (b *Base) may(of []section) []NavLink {
	var out []NavLink
	for _, s := range of {
		if inventory.May(inventory.Role(b.Role), s.action) {
			out = append(out, NavLink{s.paths[0], s.text, slices.ContainsFunc(s.paths, b.within)})
		}
	}
	return out
}

// within tells whether the page is at a path or beneath it.
func (b *Base) within(path string) bool { return b.Here == path || strings.HasPrefix(b.Here, path+"/") }
