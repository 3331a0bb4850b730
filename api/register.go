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

	Since string `query:"since" format:"date" doc:"For one page: entries recorded on this day or later"`
	Until string `query:"until" format:"date" doc:"For one page: entries recorded on this day or earlier"`
}

// listRegister lists pages of the register; where item and place are both
// named it is that one page, with its entries.
func (s *server) listRegister(ctx context.Context, in *registerQuery) (*listed[register.RegisterPage], error) {
	f := register.RegisterFilter{Item: inventory.NormalCode(in.Item), Place: inventory.NormalCode(in.Place),
		Stations: codes(in.Station)}
	if f.Item != "" && f.Place != "" {
		since, err := queryDay("since", in.Since)
		if err != nil {
			return nil, err
		}
		until, err := queryDay("until", in.Until)
		if err != nil {
			return nil, err
		}
		p, err := s.svc.Register.Register(ctx, by(ctx), f.Item, f.Place, register.Period{From: since, To: until})
		return listWhole(in.Paging, pageID)([]register.RegisterPage{p}, err)
	}
	return listWhole(in.Paging, pageID)(s.svc.Register.Registers(ctx, by(ctx), f))
}

func pageID(p register.RegisterPage) string { return strings.Join([]string{p.Place, p.Item}, "/") }

// BalanceReport is what two people counted.
type BalanceReport struct {
	Item       string            `json:"item" doc:"Item code"`
	Place      string            `json:"place" doc:"Place code"`
	Counted    int               `json:"counted" minimum:"0" maximum:"1000000" doc:"Units in the place"`
	HappenedAt inventory.Instant `json:"happened_at,omitempty" format:"date-time" doc:"Default: now"`
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

func (s *server) listOwedSignatures(ctx context.Context, in *stationQuery) (*listed[register.OwedRow], error) {
	return listWhole(in.Paging, func(o register.OwedRow) string { return id(o.Entry) })(
		s.svc.Register.OwedRows(ctx, by(ctx), codes(in.Station)))
}

// OwedSignature is a signature that was owed, by the person's own PIN.
type OwedSignature struct{ account.Signature }

// Alone returns the signature.
func (o OwedSignature) Alone() account.Signature { return o.Signature }

func (s *server) signRegisterEntry(ctx context.Context, in *toID[OwedSignature]) (register.OwedRow, error) {
	return s.svc.Register.SignEntry(ctx, by(ctx), in.ID)
}

type discrepancyQuery struct {
	Paging
	Station string `query:"station" doc:"Station code"`
	Open    bool   `query:"open" doc:"Only those that are open"`
}

func (s *server) listDiscrepancies(ctx context.Context, in *discrepancyQuery) (*listed[register.Case], error) {
	return listWhole(in.Paging, func(c register.Case) string { return id(c.ID) })(
		s.svc.Register.Discrepancies(ctx, by(ctx), codes(in.Station), in.Open))
}

func (s *server) getDiscrepancy(ctx context.Context, in *ByID) (*plain[register.Case], error) {
	return answer(s.svc.Register.Discrepancy(ctx, by(ctx), in.ID))
}

// DiscrepancyOutcome is what two people found out about a discrepancy.
type DiscrepancyOutcome struct {
	Outcome string `json:"outcome" maxLength:"2000" doc:"What was found, in words"`
	account.Signing
}

func (s *server) closeDiscrepancy(ctx context.Context, in *toID[DiscrepancyOutcome]) (register.Case, error) {
	return s.svc.Register.CloseDiscrepancy(ctx, by(ctx), in.ID, in.Body.Outcome)
}
