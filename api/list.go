package api

import (
	"context"
	"encoding/base64"
	"slices"
	"strconv"

	"stowkeeper/inventory"
)

// Paging asks for part of a list.
type Paging struct {
	Limit  int    `query:"limit" minimum:"1" maximum:"1000" default:"100" doc:"Most entries to answer with"`
	Cursor string `query:"cursor" maxLength:"200" doc:"The next_cursor of the part before"`
}

// stationQuery narrows a list to a station.
type stationQuery struct {
	Paging
	Station string `query:"station" doc:"Station code"`
}

// listOf is part of a list.
type listOf[T any] struct {
	Data       []T    `json:"data"`
	NextCursor string `json:"next_cursor,omitempty" doc:"Send it as cursor to get what follows; missing at the end"`
}

type listed[T any] struct{ Body listOf[T] }

// byCode and byID read the cursor of a list ordered by code or by id. They ask
// for one entry more than the caller wants, which tells whether more follow.
func (p Paging) byCode() (inventory.Page, error) {
	after, err := p.after()
	if len(after) > 4*inventory.MaxCode || !isText(after) {
		err = badCursor()
	}
	return inventory.Page{Limit: p.Limit + 1, After: after}, err
}

func (p Paging) byID() (inventory.Page, error) {
	after, err := p.after()
	if n, bad := strconv.ParseInt(after, 10, 64); after != "" && (bad != nil || n < 0) {
		err = badCursor()
	}
	return inventory.Page{Limit: p.Limit + 1, After: after}, err
}

func (p Paging) after() (string, error) {
	b, err := base64.RawURLEncoding.DecodeString(p.Cursor)
	if err != nil {
		return "", badCursor()
	}
	return string(b), nil
}

func badCursor() error {
	return invalid("query", "cursor", "send a next_cursor as it was answered, or leave it out")
}

// list makes the answer from what a use case returned for a page; key is the code or id of an entry.
func list[T any](p Paging, all []T, key func(T) string) *listed[T] {
	out := &listed[T]{Body: listOf[T]{Data: all}}
	if len(all) > p.Limit {
		out.Body.Data = all[:p.Limit]
		out.Body.NextCursor = base64.RawURLEncoding.EncodeToString([]byte(key(all[p.Limit-1])))
	}
	if out.Body.Data == nil {
		out.Body.Data = []T{}
	}
	return out
}

// listByID answers with a part of a list that is ordered by id, of what a use case finds by a filter.
func listByID[T, F any](ctx context.Context, p Paging, f F,
	read func(context.Context, inventory.Actor, F, inventory.Page) ([]T, error), key func(T) int64) (*listed[T], error) {
	page, err := p.byID()
	if err != nil {
		return nil, err
	}
	all, err := read(ctx, by(ctx), f, page)
	return list(p, all, func(v T) string { return id(key(v)) }), err
}

// listByCode answers with a part of a list that is ordered by code.
func listByCode[T any](p Paging, key func(T) string, read func(inventory.Page) ([]T, error)) (*listed[T], error) {
	page, err := p.byCode()
	if err != nil {
		return nil, err
	}
	all, err := read(page)
	return list(p, all, key), err
}

// listWhole pages a list that its use case returns whole, with an error or none.
func listWhole[T any](p Paging, key func(T) string) func(all []T, err error) (*listed[T], error) {
	return func(all []T, err error) (*listed[T], error) {
		if err != nil {
			return nil, err
		}
		after, err := p.after()
		if err != nil {
			return nil, err
		}
		if after != "" {
			all = all[following(all, key, after):]
		}
		return list(p, all, key), nil
	}
}

// following finds the first entry after the one with a key. Where that one is
// gone it is the first with a later key: lists go by code or id, ascending.
func following[T any](all []T, key func(T) string, after string) int {
	if i := slices.IndexFunc(all, func(v T) bool { return key(v) == after }); i >= 0 {
		return i + 1
	}
	later := func(k string) bool {
		n, err := strconv.ParseInt(k, 10, 64)
		was, errWas := strconv.ParseInt(after, 10, 64)
		if err == nil && errWas == nil {
			return n > was
		}
		return k > after
	}
	for i, v := range all {
		if later(key(v)) {
			return i
		}
	}
	return len(all)
}

func id(n int64) string { return strconv.FormatInt(n, 10) }
