package api

import (
	"context"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/register"
)

type registerQuery struct {
	Paging
	Item    string `query:"item" doc:"Item code"`
	Place   string `query:"place" doc:"Place code"`
	Station string `query:"station" doc:"Code of the station where the place is"`
}

// listRegister lists pages of the register; where item and place are both
// named it is that one page, with its entries.
func (s *server) listRegister(ctx context.Context, in *registerQuery) (*listed[inventory.RegisterPage], error) {
	f := register.RegisterFilter{Item: inventory.NormalCode(in.Item), Place: inventory.NormalCode(in.Place),
		Stations: codes(in.Station)}
	if f.Item != "" && f.Place != "" {
		p, err := s.svc.Register.Register(ctx, by(ctx), f.Item, f.Place)
		return listWhole(in.Paging, pageID)([]inventory.RegisterPage{p}, err)
	}
	return listWhole(in.Paging, pageID)(s.svc.Register.Registers(ctx, by(ctx), f))
}

func pageID(p inventory.RegisterPage) string { return strings.Join([]string{p.Place, p.Item}, "/") }

// BalanceReport is what two people counted.
type BalanceReport struct {
	Item       string            `json:"item" doc:"Item code"`
	Place      string            `json:"place" doc:"Place code"`
	Counted    int               `json:"counted" minimum:"0" maximum:"1000000" doc:"Units in the place"`
	HappenedAt inventory.Instant `json:"happened_at,omitempty" format:"date-time" doc:"Now if left out"`
	Note       string            `json:"note,omitempty" maxLength:"2000"`
	account.Signing
}

func (s *server) recordBalanceCheck(ctx context.Context, in *Posted[BalanceReport]) (inventory.BalanceCheck, error) {
	b := in.Body
	return s.svc.Register.RecordBalanceCheck(ctx, by(ctx), inventory.BalanceCheck{Item: b.Item, Place: b.Place,
		Counted: b.Counted, HappenedAt: b.HappenedAt, Note: b.Note})
}

// RegisterPosting is an entry as people write it in the register.
type RegisterPosting struct {
	register.EntryRequest
	account.Signing
}

func (s *server) recordRegisterEntry(ctx context.Context, in *Posted[RegisterPosting]) (listOf[inventory.Movement],
	error) {
	done, err := s.svc.Register.RecordEntry(ctx, by(ctx), in.Body.EntryRequest)
	return listOf[inventory.Movement]{Data: done}, err
}

type owedQuery struct {
	Paging
	Station string `query:"station" doc:"Station code"`
}

func (s *server) listOwedSignatures(ctx context.Context, in *owedQuery) (*listed[register.OwedRow], error) {
	return listWhole(in.Paging, func(o register.OwedRow) string { return id(o.Entry) })(
		s.svc.Register.OwedRows(ctx, by(ctx), codes(in.Station)))
}

// OwedSignature is a signature that was owed, by the person's own PIN.
type OwedSignature struct{ account.Signature }

// Alone returns the signature.
func (o OwedSignature) Alone() account.Signature { return o.Signature }

type entrySignature struct {
	ByID
	Posted[OwedSignature]
}

func (s *server) signRegisterEntry(ctx context.Context, in *entrySignature) (register.OwedRow, error) {
	return s.svc.Register.SignEntry(ctx, by(ctx), in.ID)
}
