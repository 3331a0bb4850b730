package web

import (
	"net/http"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/notice"
)

type noticesPage struct {
	Base
	Groups  []NoticeGroup
	MayKeep bool
}

// NoticeGroup is notices of one kind: what asks for something first.
type NoticeGroup struct {
	Title message.Message
	Rows  []NoticeRow
}

// NoticeRow is a notice in a list.
type NoticeRow struct {
	notice.NoticeSummary
	Word message.Message
	Name string
	On   When
	Href string
}

// showNotices lists notices, those with something outstanding first.
func (s *server) showNotices(v *visit) error {
	all, err := s.svc.Notice.Notices(v.ctx(), v.actor, inventory.NoticeFilter{}, inventory.Page{})
	if err != nil {
		return err
	}
	station := v.ownStation()
	todo, open, ended := NoticeGroup{Title: message.M("Outstanding")}, NoticeGroup{Title: message.M("Open")},
		NoticeGroup{Title: message.M("Closed and cancelled")}
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
	p := &noticesPage{Base: Base{Title: message.M("Recalls and notices"), Caution: true},
		MayKeep: v.may(inventory.ActKeepStock)}
	for _, g := range []NoticeGroup{todo, open, ended} {
		if len(g.Rows) > 0 {
			p.Groups = append(p.Groups, g)
		}
	}
	return s.render(v, http.StatusOK, p)
}

var noticeActionWords = map[inventory.NoticeAction]message.Message{
	inventory.NoticeWithdraw: message.M("withdraw"), inventory.NoticeInspect: message.M("inspect"),
	inventory.NoticeInform: message.M("inform"),
}

var noticeStatusWords = map[inventory.NoticeStatus]message.Message{
	inventory.NoticeOpen: message.M("open"), inventory.NoticeClosed: message.M("closed"),
	inventory.NoticeCancelled: message.M("cancelled"),
}

// noticeWord says what a notice asks for and how far it has come.
func noticeWord(n inventory.Notice) message.Message {
	return message.M("{1}, {2}", noticeActionWords[n.Action], noticeStatusWords[n.Status])
}

// noticeMeans says what a notice goes by, one sentence for each.
func noticeMeans(n inventory.NoticeScope) []message.Message {
	var out []message.Message
	for _, l := range n.BatchNos {
		out = append(out, message.M("batch {1}", l))
	}
	for _, x := range n.Serials {
		out = append(out, message.M("serial {1}", x))
	}
	if n.SerialFrom != "" {
		out = append(out, message.M("serial numbers {1} to {2}", n.SerialFrom, n.SerialTo))
	}
	if n.MadeFrom != 0 {
		out = append(out, message.M("made {1} to {2}", dayOrNone(n.MadeFrom), dayOrNone(n.MadeTo)))
	}
	if len(out) == 0 {
		out = append(out, message.M("all units"))
	}
	return out
}
