package lists

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"unicode"

	"stowkeeper/inventory"
)

// What to check before a published list is used, by whether its numbers were read anywhere.
const (
	validityRead   = "check with the publisher whether a newer edition applies"
	validityMemory = "written from memory: compare it with the published text"
)

// fromMemory begins the place where numbers were read, if they were read nowhere.
const fromMemory = "from memory"

// ParsePublished reads the published lists that the program carries. A least number of 0 is refused: what needs none
// is no line, and what needs no number has none.
func ParsePublished(data []byte) ([]PublishedList, error) {
	var rows []struct {
		Standard, Edition, Title, Kit, Source, Read string

		Items []struct {
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
		l := PublishedList{ID: publishedID(r.Standard), Standard: r.Standard, Edition: r.Edition, Title: r.Title,
			Kit: r.Kit, Source: r.Source, Read: r.Read, Validity: validityRead}
		if l.ID == "" {
			return nil, errors.New("published lists: one names no standard")
		}
		if strings.HasPrefix(r.Read, fromMemory) {
			l.Validity = validityMemory
		}
		for _, it := range r.Items {
			p := PublishedItem{Name: it.Name, Unit: it.Unit, Note: it.Note}
			if it.MinQty != nil {
				if p.Qty = *it.MinQty; p.Qty < 1 {
					return nil, fmt.Errorf("published lists: %s, %s: least number below 1", r.Standard, it.Name)
				}
			}
			l.Items = append(l.Items, p)
		}
		out = append(out, l)
	}
	return out, nil
}

// publishedID makes an address of a standard's name.
func publishedID(standard string) string {
	return strings.ToLower(codeOf(standard, inventory.MaxCode))
}

// codeOf makes a code of a name: letters and digits, all else as hyphens.
func codeOf(name string, longest int) string {
	words := strings.FieldsFunc(name, func(r rune) bool {
		return r > unicode.MaxASCII || !unicode.IsLetter(r) && !unicode.IsDigit(r)
	})
	code := strings.ToUpper(strings.Join(words, "-"))
	if len(code) > longest {
		code = code[:longest]
	}
	return strings.Trim(code, "-")
}

// PublishedLists lists the published kit lists, in the order in which the program carries them. Refuses: Forbidden
// without see.
func (s *Service) PublishedLists(by inventory.Actor) ([]PublishedList, error) {
	return s.published, by.Must(inventory.ActSee, "")
}

// PublishedList returns one of them. Refuses: Forbidden without see; NotFound.
func (s *Service) PublishedList(by inventory.Actor, id string) (PublishedList, error) {
	if err := by.Must(inventory.ActSee, ""); err != nil {
		return PublishedList{}, err
	}
	for _, l := range s.published {
		if l.ID == id {
			return l, nil
		}
	}
	return PublishedList{}, inventory.Refuse(inventory.NotFound, "not found")
}

// PublishedCopy says what a copy of a published list is to be called.
type PublishedCopy struct {
	Code string `json:"code" doc:"Code of the new kit list"`
	Name string `json:"name,omitempty" maxLength:"120" doc:"Its name (default: the published title)"`
}

// CopyPublished makes a kit list of one's own from a published one. Items of the same name and unit are taken, and
// others made, in the category other, to be adjusted. What has no number is wanted present. Refuses: Forbidden
// without keep_lists; NotFound; Invalid by field; Conflict where the code is taken.
func (s *Service) CopyPublished(ctx context.Context, by inventory.Actor, id string,
	in PublishedCopy) (inventory.KitList, error) {
	l, err := s.PublishedList(by, id)
	if err != nil {
		return inventory.KitList{}, err
	}
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepLists, func(w inventory.Writer) (inventory.KitList,
		error) {
		k := inventory.KitList{Code: inventory.NormalCode(in.Code), Version: 1, Name: in.Name, Edition: l.Standard,
			Source: l.Source}
		if k.Name == "" {
			k.Name = l.Title
		}
		items, err := w.Items(inventory.ItemFilter{}, inventory.Page{})
		if err != nil {
			return k, err
		}
		for _, p := range l.Items {
			code, err := publishedItem(w, items, p)
			if err != nil {
				return k, err
			}
			k.Lines = append(k.Lines, p.Line(code))
		}
		return k, s.addKitList(w, by, k)
	})
}

// publishedItem returns the code of the item that a published line names, making it where there is none.
func publishedItem(w inventory.Writer, items []inventory.Item, p PublishedItem) (string, error) {
	for _, it := range items {
		if strings.EqualFold(it.Name, p.Name) && strings.EqualFold(it.Unit, p.Unit) {
			return it.Code, nil
		}
	}
	base := codeOf(p.Name, inventory.MaxCode-4)
	it := inventory.Item{Code: base, Name: p.Name, Category: inventory.CategoryOther, Unit: p.Unit,
		TrackedBy: inventory.ByLot, Version: 1}
	if len(it.Unit) > 20 {
		it.Unit = it.Unit[:20]
	}
	for n := 2; ; n++ {
		_, err := w.Item(it.Code)
		if inventory.KindOf(err) == inventory.NotFound {
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
