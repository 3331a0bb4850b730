// Package services wires the services of all subjects over one store, each with those that it asks.
package services

import (
	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/agenda"
	"stowkeeper/inventory/count"
	"stowkeeper/inventory/exchange"
	"stowkeeper/inventory/history"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/notice"
	"stowkeeper/inventory/order"
	"stowkeeper/inventory/register"
	"stowkeeper/inventory/report"
	"stowkeeper/inventory/search"
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/stock"
	"stowkeeper/inventory/storeroom"
	"stowkeeper/inventory/transfer"
	"stowkeeper/inventory/verify"
)

// Options are what the owner of a service decides.
type Options struct {
	Published     []lists.PublishedList // kit lists to start from
	KeepRegisters int                   // years after the last entry; register.RegisterYears where it is 0
	CountDays     int                   // every place is counted once in so many; count.Days where it is 0
	Reorder       report.ReorderPolicy  // how much to hold
}

// All is every service. Faces hold it and call the one they need.
type All struct {
	Now   inventory.Clock
	Store inventory.Store // keeps the history of what is written through it

	Account   *account.Service
	History   *history.Service
	Ledger    *ledger.Service
	Lists     *lists.Service
	Stock     *stock.Service
	Shift     *shift.Service
	Storeroom *storeroom.Service
	Transfer  *transfer.Service
	Order     *order.Service
	Count     *count.Service
	Register  *register.Service
	Notice    *notice.Service
	Report    *report.Service
	Search    *search.Service
	Verify    *verify.Service
	Exchange  *exchange.Service
	Agenda    *agenda.Service
}

// New wires the services over a store and a clock. What they keep, the history keeps too.
func New(s inventory.Store, now inventory.Clock, o Options) *All {
	s = history.Recording(s, now)
	a := &All{
		Now: now, Store: s,
		Account: account.New(s, now), History: history.New(s, now), Ledger: ledger.New(s, now),
		Lists: lists.New(s, now, o.Published), Shift: shift.New(s, now), Storeroom: storeroom.New(s, now),
		Transfer: transfer.New(s, now), Notice: notice.New(s, now), Report: report.New(s, now), Verify: verify.New(s, now),
	}
	a.Stock = stock.New(s, now, a.Ledger, a.Lists)
	a.Register = register.New(s, now, a.Stock, o.KeepRegisters)
	a.Count = count.New(s, now, a.Register, o.CountDays)
	a.Order = order.New(s, now, a.Ledger)
	a.Report.Policy = o.Reorder
	a.Agenda = agenda.New(s, now, a.Count)
	a.Search = search.New(s, now, a.Stock)
	a.Exchange = exchange.New(s, now, a.Account, a.Lists)
	return a
}
