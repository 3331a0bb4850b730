package web

import (
	"bytes"
	"cmp"
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/labels"
)

type labelsPage struct {
	Base
	Sites   []SiteLink
	Bags    []LabelBag
	Sheet   Field
	Start   Field
	Outline bool
	All     bool
	Chosen  string // the station that the page is narrowed to
	Problem string
}

func (*labelsPage) template() string { return "labels" }

// LabelBag is a bag whose label may be printed.
type LabelBag struct {
	inventory.Bag
	Chosen bool
}

const defaultSheet = "a4-3x7"

func (s *server) showLabels(v *visit) error {
	return s.labelsForm(v, v.Request.URL.Query(), http.StatusOK, "")
}

func (s *server) labelsForm(v *visit, asked url.Values, status int, problem string) error {
	sites, err := s.svc.Sites(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	only, chosen := sitesAsked(v, sites)
	bags, err := s.svc.Bags(v.ctx(), v.actor, inventory.BagFilter{AtSites: only}, inventory.Page{})
	if err != nil {
		return err
	}
	p := &labelsPage{Base: Base{Title: "Labels"}, Sites: allSiteLinks("/labels", sites, chosen), Problem: problem,
		Outline: asked.Get("outline") != "", All: asked.Get("all") != "", Chosen: chosen}
	for _, b := range bags {
		p.Bags = append(p.Bags, LabelBag{b, slices.Contains(asked["bag"], b.Code)})
	}
	if asked.Get("sheet") == "" {
		asked.Set("sheet", defaultSheet)
	}
	f := openForm(asked)
	var sheets []Option
	for _, sh := range labels.Sheets() {
		sheets = append(sheets, Option{Value: sh.Name, Text: sh.String()})
	}
	p.Sheet = f.choice("sheet", "Sheet", sheets).Need()
	p.Start = f.numberField("start", "First free label on the sheet").WithHint("Counted along the rows, from 1.")
	return s.render(v, status, p)
}

// printLabels sends the labels of the chosen bags as a PDF.
func (s *server) printLabels(v *visit) error {
	q := v.Request.URL.Query()
	codes, err := s.bagsChosen(v, q)
	if err != nil {
		return err
	}
	if len(codes) == 0 {
		return s.labelsForm(v, q, http.StatusUnprocessableEntity, "Choose the bags to print labels for.")
	}
	sheet, err := labels.SheetByName(q.Get("sheet"))
	if err != nil {
		return s.labelsForm(v, q, http.StatusUnprocessableEntity, sentence(err.Error()))
	}
	start, err := strconv.Atoi(cmp.Or(q.Get("start"), "1"))
	if err != nil {
		return s.labelsForm(v, q, http.StatusUnprocessableEntity, "Give the first free label as a number.")
	}
	all, err := s.bagLabels(v, codes)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	_, err = labels.WritePDF(&b, sheet, all, labels.Options{Start: start, Outline: q.Get("outline") != ""})
	if refused(err) {
		return s.labelsForm(v, q, http.StatusUnprocessableEntity, sentence(err.Error()))
	}
	if err != nil {
		return err
	}
	v.Header("Content-Disposition", `inline; filename="labels.pdf"`)
	v.Data(http.StatusOK, "application/pdf", b.Bytes())
	return nil
}

// bagsChosen lists the bags that were ticked, or all that the page shows.
func (s *server) bagsChosen(v *visit, q url.Values) ([]string, error) {
	if q.Get("all") == "" {
		return q["bag"], nil
	}
	sites, err := s.svc.Sites(v.ctx(), v.actor)
	if err != nil {
		return nil, err
	}
	only, _ := sitesAsked(v, sites)
	bags, err := s.svc.Bags(v.ctx(), v.actor, inventory.BagFilter{AtSites: only}, inventory.Page{})
	codes := make([]string, 0, len(bags))
	for _, b := range bags {
		codes = append(codes, b.Code)
	}
	return codes, err
}

// bagLabels makes the labels of bags, in the order of their codes as asked.
func (s *server) bagLabels(v *visit, codes []string) ([]labels.Label, error) {
	if len(codes) > 1000 {
		return nil, inventory.Errorf(inventory.Invalid, "print at most 1000 labels at a time")
	}
	var out []labels.Label
	for _, code := range codes {
		b, err := s.svc.Bag(v.ctx(), v.actor, code)
		if err != nil {
			return nil, noSuchBag(err)
		}
		k, err := s.svc.KitList(v.ctx(), v.actor, b.KitList, b.KitListVersion)
		if err != nil {
			return nil, err
		}
		out = append(out, labels.Bag{Code: b.Code, Name: b.Name, KitList: k.Name, Edition: k.Edition, Address: labels.Address(s.opt.BaseURL, b.Code)})
	}
	return out, nil
}

// refused tells whether the labels cannot be printed as asked, in words for
// people.
func refused(err error) bool {
	var field *labels.FieldError
	var no *labels.RefusedError
	return errors.As(err, &field) || errors.As(err, &no)
}
