package web

import (
	"context"
	"net/url"
	"slices"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/shift"
)

type decideCheckPage struct {
	Base
	inventory.Check
	What    string
	Done    When
	Form    Form
	Rows    BesideTable // what needs a look
	Same    BesideTable // what agrees
	Found   []FoundFields
	HasSeal bool
	SealNow string
	Counts  bool     // it counted something, so its counts can be adjusted
	Looked  []string // the inspections of it, in words
	Reason  Field
	Signing *SigningFields
	Decided *inventory.Decision
}

// BesideTable is some of the lots of a waiting check.
type BesideTable struct {
	Rows    []BesideFields
	Decided bool
	Open    bool // a row of it has to be mended
}

// BesideFields is a lot in a waiting check: what the crew saw beside what is
// true now, and the count to adjust it to.
type BesideFields struct {
	shift.CountReview
	Name, Label string
	Saw         string // what the crew counted and why it differed
	Count       Field
	Why         Field
	Differ      bool
}

func (s *server) showCheckDecision(v *visit) error {
	return s.checkDecisionForm(v, openForm(nil), nil)
}

func (s *server) decideCheck(v *visit) error {
	f := openForm(v.Request.PostForm)
	if f.text("more") != "" {
		return s.checkDecisionForm(v, f, nil)
	}
	id := paramID(v, "id")
	counts := &counted{}
	in := shift.CheckDecision{Decision: inventory.DecisionKind(f.text("decision")), Reason: f.text("reason")}
	var foundAt []int
	if in.Decision == inventory.DecideEdit {
		counts = readCounts(f)
		in.Lines = counts.lines
		in.Found, foundAt = readFound(f)
	}
	err := s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		c, err := s.svc.Shift.DecideCheck(ctx, by, id, in)
		return doneAt(c.Bag, "check", c.ID), err
	})
	return f.fix(v, err, func(path string) string { return foundName(counts.name(path), foundAt) }, s.checkDecisionForm)
}

func (s *server) checkDecisionForm(v *visit, f *form, failed error) error {
	x, err := s.svc.Shift.ReviewCheck(v.ctx(), v.actor, paramID(v, "id"))
	if err != nil {
		return err
	}
	if len(f.values) == 0 {
		f.values = startFound(x.Found)
	}
	p := &decideCheckPage{Base: Base{Title: checkWords[x.Kind] + " of " + x.Bag}, Check: x.Check, What: checkWords[x.Kind],
		Done: whenAt(x.HappenedAt, x.Station), Decided: x.Decision, HasSeal: x.SealSeen != "" || x.SealBroken ||
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
		to.Open = to.Open || b.Count.Fix+b.Why.Fix != ""
	}
	p.Rows.Decided, p.Same.Decided = x.Decision != nil, x.Decision != nil
	if p.Looked, err = s.inspectedTexts(v, x.Check); err != nil {
		return err
	}
	p.Found = foundFields(f, itemOptions(v.items(), inventory.KitList{}), next)
	p.Reason = f.field("reason", "Reason for your decision").Need()
	p.Signing = f.signing(slices.ContainsFunc(x.Rows,
		func(r shift.CountReview) bool { return x.Items[r.Lot.Item].Controlled })).folded()
	p.Form = f.state(failed, f.keyOr(newKey), 0)
	return s.render(v, statusOf(failed), p)
}

// besideFields makes the fields of a row, filled in with what posting would
// make of it.
func besideFields(f *form, x shift.CheckReview, row shift.CountReview, next []NextBag) BesideFields {
	name := rowName(0, row.Lot.ID)
	b := BesideFields{CountReview: row, Name: nameOf(x.Items, row.Lot.Item), Label: lotLabel(row.Lot.BatchNo,
		row.Lot.Serial)}
	if row.Listed {
		b.Saw = strconv.Itoa(row.Counted)
		if row.Reason != "" {
			b.Saw += ", " + string(row.Reason)
		}
		if row.CameFrom != "" {
			b.Saw += ", taken from " + row.CameFrom
		}
	}
	suggest := row.Suggestion()
	b.Count = f.numberField(name+".counted", "Count of "+b.Name+", "+b.Label).Need()
	b.Why = f.choice(name+".reason", "Why "+b.Name+" differs", keepChosen(countReasons(next), reasonText(suggest.Reason,
		suggest.CameFrom)))
	if !f.values.Has(name + ".counted") {
		b.Count.Value = strconv.Itoa(suggest.Counted)
		b.Why = b.Why.choose(reasonText(suggest.Reason, suggest.CameFrom))
	}
	b.Differ = row.Expected != row.Now
	return b
}

// inspectedTexts says what the inspections of a check came to.
func (s *server) inspectedTexts(v *visit, x inventory.Check) ([]string, error) {
	var out []string
	for _, in := range x.Inspections {
		l, err := s.lotView(v, in.LotID)
		if err != nil {
			return nil, err
		}
		it, err := s.svc.Lists.Item(v.ctx(), v.actor, l.Item)
		if err != nil {
			return nil, err
		}
		text := l.Name + ", " + l.Label + ": passed"
		if len(inventory.FailedPoints(it, in.Points)) > 0 {
			text = l.Name + ", " + l.Label + ": " + inventory.FailedText(it, in.Points)
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
	Form    Form
	Rows    []UsedFields
	Reason  Field
	Signing *SigningFields
	Decided *inventory.Decision
}

// UsedFields is a line of a waiting use beside what the ledger has.
type UsedFields struct {
	shift.UsedBeside
	Name, Label string
	Row         string
	Count       Field
	Differ      bool
}

func (s *server) showUseDecision(v *visit) error { return s.useDecisionForm(v, openForm(nil), nil) }

func (s *server) decideUse(v *visit) error {
	f := openForm(v.Request.PostForm)
	id := paramID(v, "id")
	in := shift.UseDecision{Decision: inventory.DecisionKind(f.text("decision")), Reason: f.text("reason")}
	var rows []string
	if in.Decision == inventory.DecideEdit {
		in.Lines, rows = readUsed(f)
	}
	err := s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		u, err := s.svc.Shift.DecideUse(ctx, by, id, in)
		return doneAt(u.Bag, "use", u.ID), err
	})
	return f.fix(v, err, lineNames(rows, ""), s.useDecisionForm)
}

func (s *server) useDecisionForm(v *visit, f *form, failed error) error {
	x, err := s.svc.Shift.ReviewUse(v.ctx(), v.actor, paramID(v, "id"))
	if err != nil {
		return err
	}
	p := &decideUsePage{Base: Base{Title: "Use from " + x.Bag}, Use: x.Use, Done: whenAt(x.HappenedAt, x.Station),
		Decided: x.Decision}
	for _, row := range x.Rows {
		name := useName(row.CameFrom, row.LotID)
		u := UsedFields{UsedBeside: row, Row: name, Differ: row.Short(),
			Name: nameOf(x.Items, row.Lot.Item), Label: lotLabel(row.Lot.BatchNo, row.Lot.Serial)}
		u.Count = f.numberField(name+".qty", "Used of "+u.Name+", "+u.Label)
		if !f.values.Has(name + ".qty") {
			u.Count.Value = strconv.Itoa(row.Qty)
		}
		p.Rows = append(p.Rows, u)
	}
	p.Reason = f.field("reason", "Reason for your decision").Need()
	p.Signing = f.signing(slices.ContainsFunc(x.Rows,
		func(r shift.UsedBeside) bool { return x.Items[r.Lot.Item].Controlled })).folded()
	p.Form = f.state(failed, f.keyOr(newKey), 0)
	return s.render(v, statusOf(failed), p)
}
