package register

import (
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/scope"
)

// OwedRow is an entry that still lacks a signature.
type OwedRow struct {
	Entry      int64             `json:"entry" doc:"Id of the movement"`
	Item       string            `json:"item"`
	Name       string            `json:"name" doc:"The item's name"`
	Place      string            `json:"place" doc:"Where it was taken from"`
	Station    string            `json:"station"`
	Qty        int               `json:"qty"`
	HappenedAt inventory.Instant `json:"happened_at" format:"date-time"`
	By         string            `json:"by"`
	Reference  string            `json:"reference,omitempty"`
	Note       string            `json:"note,omitempty"`
	OwnOwed    bool              `json:"own_signature_owed,omitempty" doc:"Who recorded it has to sign too"`
	SecondOwed bool              `json:"second_signature_owed,omitempty"`
}

// OwedRows lists the entries at the actor's stations that lack a signature, oldest first. Refuses: Forbidden without
// see, and for a station that is not the actor's; NotFound for a station.
func (s *Service) OwedRows(ctx context.Context, by inventory.Actor, stations []string) ([]OwedRow, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, func(r inventory.Reader) ([]OwedRow, error) {
		seen, err := scope.Narrowed(by, r, stations)
		if err != nil {
			return nil, err
		}
		owed, err := r.OwedEntries(inventory.OwedFilter{Open: true})
		if err != nil {
			return nil, err
		}
		var places []string
		for _, o := range owed {
			places = append(places, o.From)
		}
		at, err := readWhereabouts(r, places)
		return at.owedRows(owed, seen), err
	})
}

// owedRows words the entries that were made at some stations, at any where none is named.
func (w whereabouts) owedRows(owed []inventory.OwedEntry, stations []string) []OwedRow {
	out := []OwedRow{}
	for _, o := range owed {
		row := OwedRow{Entry: o.ID, Item: o.Item, Name: w.items[o.Item].Name, Place: o.From,
			Station: w.where(w.places[o.From]), Qty: o.Qty, HappenedAt: o.HappenedAt, By: o.By, Reference: o.Reference,
			Note: o.Note}
		row.OwnOwed, row.SecondOwed = o.Owes()
		if len(stations) == 0 || slices.Contains(stations, row.Station) {
			out = append(out, row)
		}
	}
	return out
}

// Owed returns one entry that one person recorded alone, signed since or not. Refuses: Forbidden without see where
// it was taken from; NotFound.
func (s *Service) Owed(ctx context.Context, by inventory.Actor, movement int64) (OwedRow, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (OwedRow, error) {
		_, row, err := owedEntry(r, by, movement, inventory.ActSee)
		return row, err
	})
}

func owedEntry(r inventory.Reader, by inventory.Actor, movement int64, act inventory.Action) (inventory.OwedEntry,
	OwedRow, error) {
	if err := by.Must(act, ""); err != nil {
		return inventory.OwedEntry{}, OwedRow{}, err
	}
	o, err := r.OwedEntry(movement)
	if err != nil {
		return o, OwedRow{}, err
	}
	at, err := readWhereabouts(r, []string{o.From})
	if err != nil {
		return o, OwedRow{}, err
	}
	row := at.owedRows([]inventory.OwedEntry{o}, nil)[0]
	return o, row, by.Must(act, row.Station)
}

// SignEntry gives a signature that is owed: that of whom SignAlone has proven. The second one is another person's
// than that of who recorded the entry. Refuses: Forbidden without check where it was taken from; NotFound; Invalid
// where nobody is proven or it is not theirs to give; Conflict where every signature has been given.
func (s *Service) SignEntry(ctx context.Context, by inventory.Actor, movement int64) (OwedRow, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (OwedRow, error) {
		o, row, err := owedEntry(w, by, movement, inventory.ActCheck)
		if err != nil {
			return row, err
		}
		person := by.Proven(s.now()).First
		own, second := o.Owes()
		switch mine := person == o.By; {
		case person == "":
			return row, inventory.InvalidField("pin", "enter your PIN")
		case !own && !second:
			return row, inventory.Refuse(inventory.Conflict, "fully signed already")
		case mine && !own:
			return row, inventory.InvalidField("person", "choose another person")
		case !mine && !second:
			return row, inventory.InvalidField("person", "only who recorded it can sign")
		}
		if err := w.AddEntrySignature(inventory.EntrySignature{Movement: movement, Person: person,
			RecordedAt: s.now()}); err != nil {
			return row, err
		}
		_, row, err = owedEntry(w, by, movement, inventory.ActCheck)
		return row, err
	})
}
