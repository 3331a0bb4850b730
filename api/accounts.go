package api

import (
	"context"

	"stowkeeper/inventory"
)

func (s *server) listPeople(ctx context.Context, in *Paging) (*listed[inventory.Person], error) {
	people, err := s.svc.Account.People(ctx, by(ctx))
	for i := range people {
		people[i].Stations = append([]string{}, people[i].Stations...) // none is a list too
	}
	return listWhole(*in, func(p inventory.Person) string { return id(p.ID) })(people, err)
}

func (s *server) listTokens(ctx context.Context, in *Paging) (*listed[inventory.Token], error) {
	return listWhole(*in, func(t inventory.Token) string { return id(t.ID) })(s.svc.Account.Tokens(ctx, by(ctx)))
}

// NewToken is what a program's token is made from.
type NewToken struct {
	Name     string             `json:"name" doc:"Name of the program, shown in history"`
	Role     inventory.Role     `json:"role" enum:"crew,quartermaster,manager,administrator"`
	Stations []string           `json:"stations,omitempty" maxItems:"200" doc:"Default: all; crew need one"`
	Scope    []inventory.Action `json:"scope,omitempty" maxItems:"20" doc:"Default: all that its role may do"`
	EndsAt   inventory.Instant  `json:"ends_at,omitempty" format:"date-time" doc:"Default: in a year; at most in five"`
}

// TokenText is a token, shown this once.
type TokenText struct {
	Token string `json:"token" doc:"Send it as: Authorization: Bearer …"`
}

type newToken struct{ Body NewToken }

// createToken takes no Idempotency-Key: its answer is a secret, and answers to keys are kept.
func (s *server) createToken(ctx context.Context, in *newToken) (*plain[TokenText], error) {
	b := in.Body
	text, err := s.svc.Account.CreateToken(ctx, by(ctx), inventory.Token{Name: b.Name, Role: b.Role, Stations: b.Stations,
		Scope: b.Scope, EndsAt: b.EndsAt})
	return answer(TokenText{text}, err)
}

type revokedToken struct {
	ID int64 `path:"id" minimum:"1"`
	Posted[struct{}]
}

func (s *server) revokeToken(ctx context.Context, in *revokedToken) (inventory.Token, error) {
	return s.svc.Account.RevokeToken(ctx, by(ctx), in.ID)
}

type historyQuery struct {
	Paging
	Bag     string `query:"bag" maxLength:"40" doc:"A bag or place, at either end of a movement"`
	BatchNo string `query:"batch_no" maxLength:"40" doc:"Batch or serial number"`
	Person  string `query:"person" maxLength:"60" doc:"Person or program: who did it, or to whom"`
	Day     string `query:"day" format:"date" doc:"In the time zone of the first of your stations"`
}

func (s *server) listHistory(ctx context.Context, in *historyQuery) (*listed[inventory.HistoryEntry], error) {
	page, err := in.byID()
	if err != nil {
		return nil, err
	}
	day, err := queryDay("day", in.Day)
	if err != nil {
		return nil, err
	}
	entries, _, err := s.svc.History.History(ctx, by(ctx), inventory.HistoryFilter{Place: in.Bag, BatchNo: in.BatchNo,
		Person: in.Person, Day: day}, page)
	return list(in.Paging, entries, func(d inventory.HistoryEntry) string { return id(d.ID) }), err
}
