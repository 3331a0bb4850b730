package inventory

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"unicode"
)

// PublishedList is a kit list that somebody published: a starting point for a
// list of one's own. Its numbers are facts; using it claims no compliance with
// anything. Whether it still holds is for its user to find out.
type PublishedList struct {
	ID       string          `json:"id"`
	Standard string          `json:"standard" doc:"The standard or law that it stands in, with its edition"`
	Title    string          `json:"title"`
	Kit      string          `json:"kit" doc:"Which kit of it"`
	Source   string          `json:"source" doc:"Where it was read"`
	Validity string          `json:"validity" doc:"What is known of how long it holds"`
	Items    []PublishedItem `json:"items"`
}

// PublishedItem is one line of a published list. Quantity 0 means that it asks
// for it to be present and gives no number.
type PublishedItem struct {
	Name string `json:"name"`
	Qty  int    `json:"qty,omitempty" doc:"The least number; left out where the list gives none"`
	Unit string `json:"unit"`
	Note string `json:"note,omitempty"`
}

// publishedValidity is what we know of the validity of every one of them: what
// their sources say of it was not part of what was read.
const publishedValidity = "in the edition named; look at the publisher whether a newer one holds"

// ParsePublished reads the published lists that the program carries.
func ParsePublished(data []byte) ([]PublishedList, error) {
	var rows []struct {
		Standard, Title, Kit, Source string
		Items                        []struct {
			Name   string
			MinQty *int `json:"min_qty"`
			Unit   string
			Note   string
		}
	}
	if err := json.Unmarshal(data, &rows); err != nil {
		return nil, fmt.Errorf("published lists: %w", err)
	}
	var out []PublishedList
	for _, r := range rows {
		l := PublishedList{ID: publishedID(r.Standard), Standard: r.Standard, Title: r.Title, Kit: r.Kit, Source: r.Source, Validity: publishedValidity}
		for _, it := range r.Items {
			p := PublishedItem{Name: it.Name, Unit: it.Unit, Note: it.Note}
			if it.MinQty != nil {
				p.Qty = *it.MinQty
			}
			l.Items = append(l.Items, p)
		}
		out = append(out, l)
	}
	return out, nil
}

// publishedID makes an address of a standard's name.
func publishedID(standard string) string {
	return strings.ToLower(codeOf(standard, MaxCode))
}

// codeOf makes a code of a name: letters and digits, all else as hyphens.
func codeOf(name string, longest int) string {
	words := strings.FieldsFunc(name, func(r rune) bool { return r > unicode.MaxASCII || !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	code := strings.ToUpper(strings.Join(words, "-"))
	if len(code) > longest {
		code = code[:longest]
	}
	return strings.Trim(code, "-")
}

// PublishedLists lists the published kit lists.
func (s *Service) PublishedLists(by Actor) ([]PublishedList, error) {
	return s.Published, by.must(ActSee, "")
}

// PublishedList returns one of them.
func (s *Service) PublishedList(by Actor, id string) (PublishedList, error) {
	if err := by.must(ActSee, ""); err != nil {
		return PublishedList{}, err
	}
	for _, l := range s.Published {
		if l.ID == id {
			return l, nil
		}
	}
	return PublishedList{}, Errorf(NotFound, "no such published list")
}

// PublishedCopy says what a copy of a published list is to be called.
type PublishedCopy struct {
	Code string `json:"code" doc:"Code of the new kit list"`
	Name string `json:"name,omitempty" maxLength:"120" doc:"Its name; the published title if left out"`
}

// CopyPublished makes a kit list of one's own from a published one. Items of
// the same name and unit are taken, and others made, in the category other, to
// be adjusted. What has no number asks for presence only.
func (s *Service) CopyPublished(ctx context.Context, by Actor, id string, in PublishedCopy) (KitList, error) {
	l, err := s.PublishedList(by, id)
	if err != nil {
		return KitList{}, err
	}
	return write(ctx, s, func(w Writer) (KitList, error) {
		if err := by.must(ActKeepLists, ""); err != nil {
			return KitList{}, err
		}
		k := KitList{Code: NormalCode(in.Code), Version: 1, Name: in.Name, Edition: l.Standard, Source: l.Source}
		if k.Name == "" {
			k.Name = l.Title
		}
		items, err := w.Items(ItemFilter{}, Page{})
		if err != nil {
			return k, err
		}
		for _, p := range l.Items {
			code, err := publishedItem(w, items, p)
			if err != nil {
				return k, err
			}
			k.Lines = append(k.Lines, p.line(code))
		}
		return k, s.addKitList(w, by, k)
	})
}

// line is a line that asks for what a published one asks for: the least number
// is what is wanted and what stops.
func (p PublishedItem) line(item string) Line {
	if p.Qty == 0 {
		return Line{Item: item, PresenceOnly: true}
	}
	return Line{Item: item, Par: p.Qty, Minimum: p.Qty}
}

// publishedItem returns the code of the item that a published line names,
// making it where there is none.
func publishedItem(w Writer, items []Item, p PublishedItem) (string, error) {
	for _, it := range items {
		if strings.EqualFold(it.Name, p.Name) && strings.EqualFold(it.Unit, p.Unit) {
			return it.Code, nil
		}
	}
	base := codeOf(p.Name, MaxCode-4)
	it := Item{Code: base, Name: p.Name, Category: CategoryOther, Unit: p.Unit, TrackedBy: ByLot, Version: 1}
	if len(it.Unit) > 20 {
		it.Unit = it.Unit[:20]
	}
	for n := 2; ; n++ {
		_, err := w.Item(it.Code)
		if KindOf(err) == NotFound {
			break
		}
		if err != nil {
			return "", err
		}
		it.Code = fmt.Sprintf("%s-%d", base, n)
	}
	if err := checkItem(w, it); err != nil {
		return "", err
	}
	return it.Code, w.AddItem(it)
}
