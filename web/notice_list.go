package web

import (
	"net/http"

	"stowkeeper/inventory"
	"stowkeeper/inventory/notice"
)

type noticesPage struct {
	Base
	Groups  []NoticeGroup
	MayKeep bool
}

// NoticeGroup is notices of one kind: what asks for something first.
type NoticeGroup struct {
	Title string
	Rows  []NoticeRow
}

// NoticeRow is a notice in a list.
type NoticeRow struct {
	notice.NoticeSummary
	Word, Name string
	On         When
	Href       string
}

// showNotices lists notices, those with something outstanding first.
func (s *server) showNotices(v *visit) error {
	all, err := s.svc.Notice.Notices(v.ctx(), v.actor, inventory.NoticeFilter{}, inventory.Page{})
	if err != nil {
		return err
	}
	station := v.ownStation()
	todo, open, ended := NoticeGroup{Title: "Something is outstanding"}, NoticeGroup{Title: "Open, nothing outstanding"},
		NoticeGroup{Title: "Closed and cancelled"}
	for _, n := range all {
		row := NoticeRow{NoticeSummary: n, Word: noticeWord(n.Notice), Name: nameOf(v.itemsByCode(), n.Item),
			On: whenAt(n.IssuedAt, station), Href: noticePath(n.ID)}
		g := &ended
		switch {
		case n.Outstanding > 0:
			g = &todo
		case n.Status == inventory.NoticeOpen:
			g = &open
		}
		g.Rows = append(g.Rows, row)
	}
	p := &noticesPage{Base: Base{Title: "Notices", Caution: true}, MayKeep: v.may(inventory.ActKeepStock)}
	for _, g := range []NoticeGroup{todo, open, ended} {
		if len(g.Rows) > 0 {
			p.Groups = append(p.Groups, g)
		}
	}
	return s.render(v, http.StatusOK, p)
}

var noticeActionWords = map[inventory.NoticeAction]string{
	inventory.NoticeWithdraw: "withdraw", inventory.NoticeInspect: "inspect", inventory.NoticeInform: "inform",
}

var noticeStatusWords = map[inventory.NoticeStatus]string{
	inventory.NoticeOpen: "open", inventory.NoticeClosed: "closed", inventory.NoticeCancelled: "cancelled",
}

// noticeWord says what a notice asks for and how far it has come.
func noticeWord(n inventory.Notice) string {
	return noticeActionWords[n.Action] + ", " + noticeStatusWords[n.Status]
}

// noticeMeans says what a notice goes by, one sentence for each.
func noticeMeans(n inventory.Notice) []string {
	var out []string
	for _, l := range n.BatchNos {
		out = append(out, "batch "+l)
	}
	for _, x := range n.Serials {
		out = append(out, "serial "+x)
	}
	if n.SerialFrom != "" {
		out = append(out, "serial numbers from "+n.SerialFrom+" to "+n.SerialTo)
	}
	if n.MadeFrom != 0 {
		out = append(out, "made from "+dayText(n.MadeFrom)+" to "+dayText(n.MadeTo))
	}
	if len(out) == 0 {
		out = append(out, "every unit")
	}
	return out
}
