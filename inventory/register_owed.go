package inventory

import (
	"context"
	"slices"
)

// OwedRow is an entry that still lacks a signature.
type OwedRow struct {
	Entry      int64   `json:"entry" doc:"Id of the movement"`
	Item       string  `json:"item"`
	Name       string  `json:"name" doc:"The item's name"`
	Place      string  `json:"place" doc:"Where it was taken from"`
	Site       string  `json:"site"`
	Qty        int     `json:"qty"`
	HappenedAt Instant `json:"happened_at" format:"date-time"`
	By         string  `json:"by"`
	Reference  string  `json:"reference,omitempty"`
	Note       string  `json:"note,omitempty"`
	OwnOwed    bool    `json:"own_signature_owed,omitempty" doc:"The person who recorded it has to sign as well, since no PIN was given then"`
	SecondOwed bool    `json:"second_signature_owed,omitempty"`
}

// OwedRows lists the entries at the actor's sites that lack a signature,
// oldest first.
func (s *Service) OwedRows(ctx context.Context, by Actor, sites []string) ([]OwedRow, error) {
	return read(ctx, s, func(r Reader) ([]OwedRow, error) {
		if err := by.must(ActSee, ""); err != nil {
			return nil, err
		}
		seen, err := by.narrowed(r, sites)
		if err != nil {
			return nil, err
		}
		owed, err := r.OwedEntries(OwedFilter{Open: true})
		out := []OwedRow{}
		for _, o := range owed {
			row, err := owedRow(r, o)
			if err != nil {
				return nil, err
			}
			if len(seen) == 0 || slices.Contains(seen, row.Site) {
				out = append(out, row)
			}
		}
		return out, err
	})
}

func owedRow(r Reader, o OwedEntry) (OwedRow, error) {
	row := OwedRow{Entry: o.ID, Item: o.Item, Place: o.From, Qty: o.Qty, HappenedAt: o.HappenedAt, By: o.By, Reference: o.Reference, Note: o.Note}
	row.OwnOwed, row.SecondOwed = o.Owes()
	it, err := r.Item(o.Item)
	if err != nil {
		return row, err
	}
	row.Name = it.Name
	pl, err := r.Place(o.From)
	if err != nil {
		return row, err
	}
	row.Site = pl.Site
	if pl.Kind == KindBag {
		b, err := r.Bag(pl.Code)
		row.Site = b.AtSite
		return row, err
	}
	return row, nil
}

// Owed returns one entry that one person recorded alone, signed since or not.
func (s *Service) Owed(ctx context.Context, by Actor, movement int64) (OwedRow, error) {
	return read(ctx, s, func(r Reader) (OwedRow, error) {
		_, row, err := owedEntry(r, by, movement, ActSee)
		return row, err
	})
}

func owedEntry(r Reader, by Actor, movement int64, act Action) (OwedEntry, OwedRow, error) {
	if err := by.must(act, ""); err != nil {
		return OwedEntry{}, OwedRow{}, err
	}
	o, err := r.OwedEntry(movement)
	if err != nil {
		return o, OwedRow{}, err
	}
	row, err := owedRow(r, o)
	if err != nil {
		return o, row, err
	}
	return o, row, by.must(act, row.Site)
}

// SignEntry gives a signature that is owed: that of whom SignAlone has proven.
// The second one is another person's than that of who recorded the entry.
func (s *Service) SignEntry(ctx context.Context, by Actor, movement int64) (OwedRow, error) {
	return write(ctx, s, func(w Writer) (OwedRow, error) {
		o, row, err := owedEntry(w, by, movement, ActCheck)
		if err != nil {
			return row, err
		}
		person := by.proven(s.Now()).first
		own, second := o.Owes()
		switch mine := person == o.By; {
		case person == "":
			return row, Invalidf("pin", "type your own PIN")
		case !own && !second:
			return row, Errorf(Conflict, "every signature for this entry has been given")
		case mine && !own:
			return row, Invalidf("person", "the signature that is owed is another person's: nobody is both")
		case !mine && !second:
			return row, Invalidf("person", "the signature that is owed is that of who recorded it")
		}
		if err := w.AddEntrySignature(EntrySignature{Movement: movement, Person: person, At: s.Now()}); err != nil {
			return row, err
		}
		_, row, err = owedEntry(w, by, movement, ActCheck)
		return row, err
	})
}
