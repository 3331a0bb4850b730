package web

import (
	"cmp"
	"slices"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/stock"
)

const extraRows = 2

var wayOutOptions = []Option{
	{Value: string(inventory.RemoveDamaged), Text: message.M("damaged")},
	{Value: string(inventory.RemoveToQuarantine), Text: message.M("to quarantine")},
	{Value: string(inventory.RemoveToStore), Text: message.M("not needed, back to store")},
}

// PickFields is a pick with the field to confirm it.
type PickFields struct {
	inventory.Pick
	Name            string
	Label, FromName message.Message
	Inspect         string // the way to the inspection that it needs first
	Ticked          bool   // it was picked
	Row             string
	Count           Field
}

// TakeOutFields is a take-out with the field to confirm it.
type TakeOutFields struct {
	inventory.TakeOut
	Name        string
	Label, Goes message.Message
	Row         string
	Count       Field
}

// UnfilledView is what the stores cannot fill.
type UnfilledView struct {
	inventory.Unfilled
	Name string
}

// StandInView is an accepted item in place of a line's own, by name.
type StandInView struct {
	inventory.StandIn
	Name, Instead string
}

// ExtraFields is something put in that the list did not propose.
type ExtraFields struct{ Lot, Qty Field }

// OtherOutFields is something taken out that the list did not propose.
type OtherOutFields struct{ Lot, Qty, How Field }

func pickFields(f *form, pl inventory.PickList, items map[string]inventory.Item,
	stores []inventory.Place) []PickFields {
	var out []PickFields
	for i, pick := range pl.Lines {
		x := PickFields{Pick: pick, Name: nameOf(items, pick.Item), Label: lotLabel(pick.BatchNo, pick.Serial),
			FromName: message.Plain(placeName(stores, pick.From)), Row: pickRow(pl, i)}
		x.Ticked = f.text(x.Row+tickedField) != ""
		if pick.InspectFirst {
			x.Inspect = devicePath(pick.LotID) + "/inspect"
		}
		x.Count = f.numberFrom(x.Row+".qty", message.M("Put in: {1}, {2}", x.Name, x.Label), pick.Qty)
		out = append(out, x)
	}
	// In the order of the way round the store.
	slices.SortStableFunc(out, func(a, b PickFields) int {
		return cmp.Or(cmpText(a.FromName.String(), b.FromName.String()), cmpText(a.Name, b.Name))
	})
	return out
}

func takeOutFields(f *form, pl inventory.PickList, items map[string]inventory.Item) []TakeOutFields {
	var out []TakeOutFields
	for i, t := range pl.TakeOut {
		x := TakeOutFields{TakeOut: t, Name: nameOf(items, t.Item), Label: lotLabel(t.BatchNo, t.Serial),
			Goes: goesTo(t.To, t.Reason), Row: outPrefix + lotAt(t.LotID, t.To) + "@" + strconv.Itoa(i)}
		x.Count = f.numberFrom(x.Row+".qty", message.M("Take out: {1}, {2}", x.Name, x.Label), t.Qty)
		out = append(out, x)
	}
	return out
}

// goesTo says where something taken out goes. What leaves the service goes to no place that a page shows.
func goesTo(place string, why inventory.Reason) message.Message {
	switch {
	case place == string(inventory.KindDisposed):
		return message.M("to be disposed of")
	case inventory.OutsideCode(place):
		return outsideWords[inventory.PlaceKind(place)]
	case why == inventory.ReasonQuarantine:
		return message.M("to quarantine, {1}", place)
	}
	return message.M("back to {1}", place)
}

// otherOutFields are for taking out something else than the list proposes: any lot in the bag.
func otherOutFields(f *form, c inventory.Checklist) []OtherOutFields {
	var options []Option
	seen := map[int64]bool{}
	for _, pv := range contentsOf(c) {
		for _, line := range pv.Lines {
			for _, l := range line.Lots {
				if !seen[l.LotID] {
					seen[l.LotID] = true
					options = append(options, Option{Value: formatID(l.LotID), Text: message.M("{1}, {2}", l.Name, l.Label)})
				}
			}
		}
	}
	out := make([]OtherOutFields, extraRows)
	for i := range out {
		row := otherPrefix + strconv.Itoa(i)
		out[i] = OtherOutFields{f.choice(row+".lot", message.M("Batch"), options),
			f.numberField(row+".qty", message.M("Quantity")), f.choice(row+".how", message.M("Return to"), wayOutOptions)}
	}
	return out
}

// extraFields are for something else than the list proposes: any lot in the bag's stores.
func extraFields(f *form, stored []stock.LotSummary, items map[string]inventory.Item) []ExtraFields {
	var options []Option
	lots := sortLots(stored, items)
	slices.SortStableFunc(lots, func(a, b stock.LotSummary) int { return cmp.Compare(a.Where[0].Place, b.Where[0].Place) })
	for _, l := range lots {
		options = append(options, Option{Value: lotAt(l.ID, l.Where[0].Place), Text: lotOption(l, items)})
	}
	out := make([]ExtraFields, extraRows)
	for i := range out {
		row := extraPrefix + strconv.Itoa(i)
		out[i] = ExtraFields{f.choice(row+".lot", message.M("Batch"), options),
			f.numberField(row+".qty", message.M("Quantity"))}
	}
	return out
}

// lotOption words a lot in a store as one line of a list.
func lotOption(l stock.LotSummary, items map[string]inventory.Item) message.Message {
	s := message.M("{1}, {2}", nameOf(items, l.Item), lotLabel(l.BatchNo, l.Serial))
	if l.UsableThrough != 0 {
		s = message.M("{1}: use by {2}", s, l.UsableThrough)
	}
	for _, w := range l.Where {
		s = message.M("{1}, {2} there", s, w.Qty)
	}
	return s
}

// sortLots orders lots by item name, then as they end.
func sortLots(lots []stock.LotSummary, items map[string]inventory.Item) []stock.LotSummary {
	slices.SortStableFunc(lots, func(a, b stock.LotSummary) int {
		return cmp.Or(cmpText(nameOf(items, a.Item), nameOf(items, b.Item)), stock.ComparePickOrder(a, b))
	})
	return lots
}
