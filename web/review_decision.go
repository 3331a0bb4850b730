package web

import (
	"context"
	"net/url"
	"slices"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/shift"
)

type decideCheckPage struct {
	Base
	inventory.Check
	What    message.Message
	LeftOut message.Message // how many lines it did not count
	Done    When
	Rows    BesideTable // what needs a look
	Same    BesideTable // what agrees
	Found   []FoundFields
	HasSeal bool
	SealNow string
	Counts  bool              // it counted something, so its counts can be adjusted
	Looked  []message.Message // the inspections of it, in words
	Reason  Field
	Signing *SigningFields
	Decided *inventory.Decision
	Waits   bool // for a decision
}

// BesideTable is some of the lots of a waiting check.
type BesideTable struct {
	Rows  []BesideFields
	Waits bool
	Open  bool // a row of it has to be mended
}

// BesideFields is a lot in a waiting check: what the crew saw beside what is true now, and the count to adjust it to.
type BesideFields struct {
	shift.CountReview
	Name       string
	Label      message.Message
	Saw        message.Message // what the crew counted and why it differed
	Count, Why Field
	Differ     bool
}

func (s *server) decideCheck(v *visit, f *form) error {
	if f.text("more") != "" {
		return s.checkDecisionForm(v, f, nil)
	}
	id := paramID(v, "id")
	counts := &counted{}
	in := shift.CheckDecision{Decision: inventory.DecisionKind(f.text("decision")), Reason: f.text("reason")}
	var foundAt []int
	if in.Decision == inventory.DecideEdit {
		counts = readCounts(f, nil)
		in.Lines = counts.lines
		in.Found, foundAt = readFound(f)
	}
	f.names = func(path string) string { return foundName(counts.name(path), foundAt) }
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		c, err := s.svc.Shift.DecideCheck(ctx, by, id, in)
		return doneAt(c.Bag, "check", c.ID), err
	})
}

func (s *server) checkDecisionForm(v *visit, f *form, failed error) error {
	x, err := s.svc.Shift.ReviewCheck(v.ctx(), v.actor, paramID(v, "id"))
	if err != nil {
		return err
	}
	if len(f.values) == 0 {
		f.values = startFound(x.Found)
	}
	p := &decideCheckPage{Base: Base{Title: message.M("{1} of {2}", checkWords[x.Kind], x.Bag)}, Check: x.Check,
		What: checkWords[x.Kind], LeftOut: leftOut(x.Check),
		Done: whenAt(x.HappenedAt, x.Station), Decided: x.Decision,
		Waits: x.Status == inventory.StatusToReview, HasSeal: x.SealSeen != "" || x.SealBroken ||
			x.SealSet != "",
		SealNow: x.AtBag.Seal, Counts: x.Kind == inventory.FullCheck}
	next := v.nextBags(x.AtBag)
	for _, row := range x.Rows {
		b := besideFields(f, x, row, next)
		to := &p.Rows
		if row.Agrees() {
			to = &p.Same
		}
		to.Rows = append(to.Rows, b)
		to.Open = to.Open || b.Count.Fix != nil || b.Why.Fix != nil
	}
	p.Rows.Waits, p.Same.Waits = p.Waits, p.Waits
	if p.Looked, err = s.inspectedTexts(v, x.Check); err != nil {
		return err
	}
	p.Found = foundFields(f, itemOptions(v.items(), inventory.KitList{}), next)
	p.Reason = f.field("reason", message.M("Reason")).Need()
	p.Signing = f.signing(slices.ContainsFunc(x.Rows,
		func(r shift.CountReview) bool { return x.Items[r.Lot.Item].Controlled })).folded()
	return s.renderForm(v, f, p, failed)
}

// besideFields makes the fields of a row, filled in with what posting would make of it.
func besideFields(f *form, x shift.CheckReview, row shift.CountReview, next []NextBag) BesideFields {
	name := rowName(0, row.Lot.ID)
	b := BesideFields{CountReview: row, Name: nameOf(x.Items, row.Lot.Item), Label: lotLabel(row.Lot.BatchNo,
		row.Lot.Serial)}
	if row.Listed {
		b.Saw = message.Join(", ", message.M("{1}", row.Counted), countReasonWords[row.Reason],
			about("from {1}", row.CameFrom))
	}
	suggest := row.Suggestion()
	b.Count = f.numberField(name+".counted", message.M("Count of {1}, {2}", b.Name, b.Label)).Need()
	b.Why = f.choice(name+".reason", message.M("Reason: {1} differs", b.Name),
		keepChosen(countReasons(next), reasonText(suggest.Reason, suggest.CameFrom)))
	if !f.values.Has(name + ".counted") {
		b.Count.Value = strconv.Itoa(suggest.Counted)
		b.Why = b.Why.choose(reasonText(suggest.Reason, suggest.CameFrom))
	}
	b.Differ = row.Expected != row.Now
	return b
}

func (s *server) inspectedTexts(v *visit, x inventory.Check) ([]message.Message, error) {
	var out []message.Message
	for _, in := range x.Inspections {
		l, err := s.lotView(v, in.LotID)
		if err != nil {
			return nil, err
		}
		it := v.itemsByCode()[l.Item]
		text := message.M("{1}, {2}: passed", l.Name, l.Label)
		if len(inventory.FailedPoints(it, in.Points)) > 0 {
			text = message.M("{1}, {2}: {3}", l.Name, l.Label, inventory.FailedText(it, in.Points))
		}
		out = append(out, text)
	}
	return out, nil
}

// startFound fills the found rows of a form with what a check found.
func startFound(found []inventory.FoundLine) url.Values {
	values := url.Values{}
	for i, l := range found {
		set := func(field, value string) { values.Set(foundField(i, field), value) }
		what := string(l.Reason)
		if l.Unidentified {
			what = unidentified
		}
		if what == "" {
			what = string(inventory.FoundStock)
		}
		if l.CameFrom != "" {
			what = fromPrefix + l.CameFrom
		}
		set("what", what)
		set("item", l.Item)
		set("qty", strconv.Itoa(l.Qty))
		set("batch_no", l.BatchNo)
		set("serial", l.Serial)
		set("end_printed", l.EndPrinted)
		set("end_wording", string(l.EndWording))
	}
	return values
}

type decideUsePage struct {
	Base
	inventory.Use
	Done    When
	Rows    []UsedFields
	Reason  Field
	Signing *SigningFields
	Decided *inventory.Decision
	Waits   bool // for a decision
}

// UsedFields is a line of a waiting use beside what the ledger has.
type UsedFields struct {
	shift.UsedBeside
	Name   string
	Label  message.Message
	Row    string
	Count  Field
	Given  string // with its unit
	Wasted string
	Parts  []Field // given and wasted, where units have a content
	Differ bool
}

func (s *server) decideUse(v *visit, f *form) error {
	id := paramID(v, "id")
	in := shift.UseDecision{Decision: inventory.DecisionKind(f.text("decision")), Reason: f.text("reason")}
	var rows []string
	if in.Decision == inventory.DecideEdit {
		in.Lines, rows = readUsed(f)
	}
	f.names = lineNames(rows, "")
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		u, err := s.svc.Shift.DecideUse(ctx, by, id, in)
		return doneAt(u.Bag, "use", u.ID), err
	})
}

func (s *server) useDecisionForm(v *visit, f *form, failed error) error {
	x, err := s.svc.Shift.ReviewUse(v.ctx(), v.actor, paramID(v, "id"))
	if err != nil {
		return err
	}
	p := &decideUsePage{Base: Base{Title: message.M("Use from {1}", x.Bag)}, Use: x.Use,
		Done: whenAt(x.HappenedAt, x.Station), Decided: x.Decision,
		Waits: x.Status == inventory.StatusToReview}
	for _, row := range x.Rows {
		name := useName(row.CameFrom, row.LotID)
		u := UsedFields{UsedBeside: row, Row: name, Differ: row.Short(),
			Name: nameOf(x.Items, row.Lot.Item), Label: lotLabel(row.Lot.BatchNo, row.Lot.Serial)}
		u.Count = f.numberFrom(name+".qty", message.M("Used: {1}, {2}", u.Name, u.Label), row.Qty)
		of := x.Items[row.Lot.Item].Content
		u.Given, u.Wasted = row.Given.Words(of.Unit), row.Wasted.Words(of.Unit)
		if !of.None() {
			given, wasted := f.parts(name, of)
			if !f.values.Has(given.Name) {
				given.Value, wasted.Value = string(row.Given), string(row.Wasted)
			}
			u.Parts = []Field{given, wasted}
		}
		p.Rows = append(p.Rows, u)
	}
	p.Reason = f.field("reason", message.M("Reason")).Need()
	p.Signing = f.signing(slices.ContainsFunc(x.Rows,
		func(r shift.UsedBeside) bool { return x.Items[r.Lot.Item].Controlled })).folded()
	return s.renderForm(v, f, p, failed)
}
