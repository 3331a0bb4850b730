package web

import (
	"bytes"
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/storeroom"
	"stowkeeper/labels"
	"stowkeeper/labels/labelof"
)

type labelsPage struct {
	Base
	Kinds                   []NavLink
	Stations                []NavLink       // stations, or for shelves the stores
	Of                      message.Message // what Stations leads to
	Legend                  message.Message
	Hidden                  []Hidden
	Picks                   []Pick
	More                    []Pick // for shelves: items that do not lie there now
	All                     bool
	Sheets                  []SheetChoice
	Start, OffsetX, OffsetY Field
	Outline                 bool
	Problem                 message.Message
	Instead                 *NavLink // the same on the nearest sheet that can be read
	FarHint                 bool     // what is read at a vehicle
	Shown                   *LabelPreview

	CalibrationHref string
}

// Pick is something whose label may be printed.
type Pick struct {
	Name, Value, Code string
	Text, Note        message.Message
	Chosen            bool
}

// SheetChoice is a sheet with how the labels that are chosen come out on it.
type SheetChoice struct {
	Name    string
	Text    message.Message
	Fit     message.Message // as they come out
	Refused message.Message // or why they cannot be read
	Chosen  bool
}

var labelKinds = []struct {
	kind         storeroom.LabelKind
	text, legend message.Message
}{
	{storeroom.LabelBag, message.M("Bag labels"), message.M("Bags")},
	{storeroom.LabelCard, message.M("Contents cards"), message.M("Bags")},
	{storeroom.LabelShelf, message.M("Shelf labels"), message.M("Items")},
	{storeroom.LabelDevice, message.M("Device labels"), message.M("Devices")},
}

var pickWords = map[storeroom.LabelKind]message.Message{
	storeroom.LabelBag: message.M("bags"), storeroom.LabelCard: message.M("bags"),
	storeroom.LabelShelf: message.M("items"), storeroom.LabelDevice: message.M("devices"),
}

// showLabels is the page to choose labels on, with the sheet as it will be printed once something is chosen.
func (s *server) showLabels(v *visit) error {
	a := s.labelsAsked(v)
	j, err := s.labelJob(v, a)
	var shown *LabelPreview
	if err == nil && a.chosen {
		shown, err = previewOf(a, j)
	}
	return s.labelsForm(v, a, j, shown, err)
}

func (s *server) labelsForm(v *visit, a labelsAsked, j labelJob, shown *LabelPreview, failed error) error {
	p := &labelsPage{Base: Base{Title: message.M("Labels")}, Shown: shown, All: a.values.Get("all") != "",
		Outline: a.values.Get("outline") != "",
		FarHint: a.ask.Kind == storeroom.LabelBag || a.ask.Kind == storeroom.LabelCard}
	status := http.StatusOK
	if failed != nil {
		if p.Problem = labelProblem(failed, j.facts); p.Problem == nil {
			return failed
		}
		status = http.StatusUnprocessableEntity
		var no *labels.RefusedError
		if errors.As(failed, &no) && no.Sheet != "" {
			p.Instead = &NavLink{Href: a.href("/labels", "sheet", no.Sheet), Text: message.M("Use sheet {1}", no.Sheet)}
		}
	}
	sample, err := s.addPicks(v, p, a, j)
	if err != nil {
		return err
	}
	for _, k := range labelKinds {
		p.Kinds = append(p.Kinds, NavLink{a.asKind(k.kind), k.text, k.kind == a.ask.Kind})
		if k.kind == a.ask.Kind {
			p.Legend = k.legend
		}
	}
	p.Sheets = sheetChoices(a, sample)
	a.fields(p, j)
	return s.render(v, status, p)
}

func (a labelsAsked) fields(p *labelsPage, j labelJob) {
	if of := a.values.Get("offsets_of"); of == "" || of != j.offsetsOf() {
		a.values.Set("offset_x", millimetres(j.opt.OffsetX))
		a.values.Set("offset_y", millimetres(j.opt.OffsetY))
	}
	f := openForm(a.values)
	p.Start = f.numberField("start", message.M("First free label")).WithHint(message.M("Along the rows, from 1")).Need()
	p.OffsetX = f.numberField("offset_x", message.M("Move right (mm)")).Need()
	p.OffsetY = f.numberField("offset_y", message.M("Move down (mm)")).Need()
	for _, x := range []*Field{&p.OffsetX, &p.OffsetY} {
		x.Mode, x.Step = "decimal", "0.1"
	}
	for _, name := range []string{"kind", "station", "place"} {
		if value := a.values.Get(name); value != "" {
			p.Hidden = append(p.Hidden, Hidden{name, value})
		}
	}
	p.Hidden = append(p.Hidden, Hidden{"offsets_of", j.offsetsOf()})
}

func millimetres(mm float64) string { return strconv.FormatFloat(mm, 'f', -1, 64) }

// sheetChoices fits labels on every sheet, so that one can be chosen by what comes out.
func sheetChoices(a labelsAsked, sample []labels.Label) []SheetChoice {
	var out []SheetChoice
	for _, sh := range labels.Sheets() {
		c := SheetChoice{Name: sh.Name, Text: sh.Text(), Chosen: sh.Name == a.values.Get("sheet")}
		if len(sample) > 0 {
			r, err := labels.Plan(sh, sample, labels.Options{})
			var no *labels.RefusedError
			switch {
			case err == nil:
				c.Fit = fitText(r)
			case errors.As(err, &no):
				c.Refused = message.M("Too small: {1}", no.Reason)
			}
		}
		out = append(out, c)
	}
	return out
}

func (s *server) printLabels(v *visit) error {
	a := s.labelsAsked(v)
	j, err := s.labelJob(v, a)
	if err == nil && !a.chosen {
		err = inventory.Refuse(inventory.Invalid, "choose {1}", pickWords[a.ask.Kind])
	}
	var b bytes.Buffer
	if err == nil {
		_, err = labels.WritePDF(&b, j.sheet, j.labels, j.opt)
	}
	if err != nil {
		return s.labelsForm(v, a, j, nil, err)
	}
	return sendPDF(v, "labels.pdf", b.Bytes())
}

func sendPDF(v *visit, name string, body []byte) error {
	v.Header("Content-Disposition", `inline; filename="`+name+`"`)
	v.Data(http.StatusOK, "application/pdf", body)
	return nil
}

// drawLabels sends one sheet as a picture, with the edges of its labels.
func (s *server) drawLabels(v *visit) error {
	a := s.labelsAsked(v)
	j, err := s.labelJob(v, a)
	var b bytes.Buffer
	if err == nil {
		page, _ := strconv.Atoi(v.Query("page")) // 0 is no page
		j.opt.Outline = true
		_, err = labels.WriteSheetSVG(&b, j.sheet, j.labels, j.opt, page)
	}
	if problem := labelProblem(err, j.facts); problem != nil {
		return &inventory.Error{Kind: inventory.Invalid, Message: problem}
	}
	if err != nil {
		return err
	}
	v.sendText(http.StatusOK, assetTypes[".svg"], b.Bytes())
	return nil
}

func (s *server) printCalibration(v *visit) error {
	a := s.labelsAsked(v)
	a.chosen = false
	j, err := s.labelJob(v, a)
	var b bytes.Buffer
	if err == nil {
		err = labels.WriteCalibration(&b, j.sheet, j.opt)
	}
	if err != nil {
		return s.labelsForm(v, a, j, nil, err)
	}
	return sendPDF(v, "calibration.pdf", b.Bytes())
}

// keepOffset remembers the offsets of a sheet for the station that prints, and
// goes back to the page of labels as it was.
func (s *server) keepOffset(v *visit) error {
	f := openForm(v.Request.PostForm)
	sheet, err := labels.SheetByName(f.text("sheet"))
	if problem := labelProblem(err, nil); problem != nil {
		return &inventory.Error{Kind: inventory.Invalid, Message: problem}
	}
	o := inventory.SheetOffset{Station: f.text("station"), Sheet: sheet.Name}
	for name, mm := range map[string]*float64{"offset_x": &o.X, "offset_y": &o.Y} {
		if *mm, err = strconv.ParseFloat(f.text(name), 64); err != nil {
			return inventory.InvalidField(name, "enter -{1} to {1} mm", 5)
		}
	}
	if _, err := s.svc.Storeroom.KeepSheetOffset(v.ctx(), v.actor, o); err != nil {
		return err
	}
	back, err := url.ParseQuery(f.text("back"))
	if err != nil {
		back = url.Values{}
	}
	return v.to("/labels?" + back.Encode())
}

// addPicks lists what can be chosen, and returns labels to fit on the sheets:
// those that are chosen, else the first of the list.
func (s *server) addPicks(v *visit, p *labelsPage, a labelsAsked, j labelJob) ([]labels.Label, error) {
	var err error
	everything := a.ask
	everything.Bags, everything.Items, everything.Devices = nil, nil, nil
	if a.ask.Kind == storeroom.LabelShelf {
		p.Of = message.M("Stores")
		if everything.Place, err = s.addStores(v, p, a); err != nil || everything.Place == "" {
			return j.labels, err
		}
		a.values.Set("place", everything.Place)
	} else {
		p.Of, p.Stations = message.M("Stations"), labelStationLinks(a, v.stations())
	}
	if everything.Kind == storeroom.LabelCard {
		everything.Kind = storeroom.LabelBag // the list needs no contents
	}
	all, err := s.svc.Storeroom.Labels(v.ctx(), v.actor, everything)
	if err != nil {
		return nil, err
	}
	for _, f := range all {
		p.Picks = append(p.Picks, a.pick(f))
	}
	if a.ask.Kind == storeroom.LabelShelf {
		addOtherItems(v, p, a)
	}
	if len(j.labels) > 0 || len(all) == 0 {
		return j.labels, nil
	}
	return s.sample(v, a, all[0])
}

func (s *server) sample(v *visit, a labelsAsked, first storeroom.LabelFacts) ([]labels.Label, error) {
	if a.ask.Kind == storeroom.LabelCard {
		cards, err := s.svc.Storeroom.Labels(v.ctx(), v.actor, storeroom.LabelAsk{Kind: storeroom.LabelCard,
			Bags: []string{first.Code}})
		if err != nil || len(cards[0].Contents.Lines) == 0 {
			return nil, err
		}
		first = cards[0]
	}
	return []labels.Label{labelof.Facts(first, s.opt.BaseURL)}, nil
}

func (a labelsAsked) pick(f storeroom.LabelFacts) Pick {
	x := Pick{Name: pickNames[a.ask.Kind], Value: f.Code, Code: f.Code, Text: message.Plain(f.Name)}
	if f.Kind == storeroom.LabelDevice {
		x.Value, x.Code = formatID(f.LotID), f.Serial
		x.Text = message.M("{1}, {2}", f.Name, f.Place)
		if f.Training {
			x.Note = message.M("training")
		}
	}
	x.Chosen = slices.Contains(a.named(), x.Value)
	return x
}

func labelStationLinks(a labelsAsked, stations []inventory.Station) []NavLink {
	if len(stations) < 2 {
		return nil
	}
	base := "/labels?kind=" + url.QueryEscape(string(a.ask.Kind))
	out := []NavLink{{base, message.M("All stations"), len(a.ask.Stations) == 0}}
	for _, x := range stations {
		out = append(out, NavLink{base + "&station=" + url.QueryEscape(x.Code), message.Plain(x.Name),
			slices.Contains(a.ask.Stations, x.Code)})
	}
	return out
}

// addStores leads to each store of the person's stations, and returns the one
// that the page is about: the one named, else the first.
func (s *server) addStores(v *visit, p *labelsPage, a labelsAsked) (string, error) {
	stores, err := s.svc.Lists.Places(v.ctx(), v.actor, inventory.PlaceFilter{Kind: inventory.KindStore}, inventory.Page{})
	if err != nil || len(stores) == 0 {
		return "", err
	}
	here := stores[0].Code
	for _, x := range stores {
		if x.Code == inventory.NormalCode(a.ask.Place) {
			here = x.Code
		}
	}
	for _, x := range stores {
		p.Stations = append(p.Stations, NavLink{"/labels?kind=shelf&place=" + url.QueryEscape(x.Code),
			message.Plain(x.Name), x.Code == here})
	}
	return here, nil
}

// addOtherItems lists the items that do not lie in the store now: shelves are labelled before the stock comes.
func addOtherItems(v *visit, p *labelsPage, a labelsAsked) {
	for _, it := range v.items() {
		there := func(x Pick) bool { return x.Value == it.Code }
		if !slices.ContainsFunc(p.Picks, there) {
			p.More = append(p.More, a.pick(storeroom.LabelFacts{Kind: storeroom.LabelShelf, Code: it.Code, Name: it.Name}))
		}
	}
}
