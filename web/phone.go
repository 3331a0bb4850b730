package web

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"io/fs"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/shift"
)

// A phone keeps the pages of its station's bags, and what is recorded on them without signal, by the script in
// assets/modules. This file is what it asks of the service: the worker's script, two pages that need nobody to be
// signed in, and the list of pages to keep.

// waitingHerePage lists what waits on the phone to be sent; its script fills it, since only the phone knows.
type unsentPage struct{ Base }

func (s *server) showUnsent(v *visit) error {
	return s.render(v, http.StatusOK, &unsentPage{Base: Base{Title: message.M("Not sent yet")}})
}

type noSignalPage struct{ Base }

func (s *server) showNoSignal(v *visit) error {
	return s.render(v, http.StatusOK, &noSignalPage{Base: Base{Title: message.M("No signal")}})
}

// loadWorker packs the worker's script with the addresses of what it keeps of
// every page, and notes what pages look like.
func (s *server) loadWorker() error {
	body, err := pack(assetFiles, "assets/modules", "worker.js")
	if err != nil {
		return err
	}
	if body, err = shortScript(s.texts.Script(body)); err != nil {
		return err
	}
	shell := append(slices.DeleteFunc(slices.Sorted(maps.Keys(s.assets.byHref)), func(href string) bool {
		return strings.Contains(href, "/desk.") || strings.HasSuffix(href, ".png") // nothing that a crew needs
	}), "/waiting-here", "/no-signal")
	sum := sha256.New()
	sum.Write(body)
	sum.Write([]byte(strings.Join(shell, " ")))
	files, err := fs.Glob(templateFiles, "templates/*.html")
	if err != nil {
		return err
	}
	pages, err := fs.Glob(templateFiles, "templates/pages/*.html")
	if err != nil {
		return err
	}
	for _, f := range append(files, pages...) {
		text, err := templateFiles.ReadFile(f)
		if err != nil {
			return err
		}
		sum.Write(text)
	}
	sum.Write(s.texts.Sum())
	s.look = hex.EncodeToString(sum.Sum(nil)[:8])
	head, err := json.Marshal(map[string]any{"look": s.look, "shell": shell})
	s.worker = append([]byte("self.build = "+string(head)+";\n"), body...)
	return err
}

// serveWorker sends the worker's script. Browsers ask for it again by themselves, so its address stays.
func (s *server) serveWorker(v *visit) error {
	v.Header("Cache-Control", "no-cache")
	v.sendText(http.StatusOK, assetTypes[".js"], s.worker)
	return nil
}

// keptPage is a page that a crew's phone keeps. Its mark changes when the page would look another way.
type keptPage struct {
	Path string `json:"path"`
	Mark string `json:"mark"`
}

// listKept lists the pages of the bags at a crew's stations. Other roles keep only what they open.
func (s *server) listKept(v *visit) error {
	out := struct {
		Person string     `json:"person"`
		Look   string     `json:"look"`
		Pages  []keptPage `json:"pages"`
		Names  []string   `json:"names"` // to tap without signal: no more than these
	}{v.actor.Name, s.look, []keptPage{}, []string{}}
	if v.actor.Role == inventory.Crew {
		var err error
		if out.Pages, err = s.keptPages(v); err != nil {
			return err
		}
		names, err := s.namesHere(v, v.actor.Stations...)
		if err != nil {
			return err
		}
		for _, n := range names {
			out.Names = append(out.Names, n.Name)
		}
	}
	if wanted := v.QueryArray("path"); len(wanted) > 0 {
		return v.sendJSON(s.pagesAtOnce(v, slices.DeleteFunc(out.Pages,
			func(p keptPage) bool { return !slices.Contains(wanted, p.Path) })))
	}
	return v.sendJSON(out)
}

func (v *visit) sendJSON(x any) error {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false) // nothing but a script reads it
	err := e.Encode(x)
	if err == nil {
		v.sendText(http.StatusOK, "application/json", b.Bytes())
	}
	return err
}

// pagesKept is several pages: every line once, and for each page how far it is from each of its lines to the next.
type pagesKept struct {
	Lines []string         `json:"lines"`
	Pages map[string][]int `json:"pages"` // those that can be opened, by their paths
}

// pagesAtOnce renders pages for who asks, in one answer: they are so much alike that it is a quarter of what they are
// one by one.
func (s *server) pagesAtOnce(v *visit, pages []keptPage) pagesKept {
	out, at := pagesKept{Pages: map[string][]int{}}, map[string]int{}
	for _, p := range pages {
		r := v.Request.Clone(v.ctx())
		r.URL, _ = url.Parse(p.Path) // one that we made
		r.Header.Del("Accept-Encoding")
		page := inMemory{header: http.Header{}, status: http.StatusOK}
		s.within.ServeHTTP(&page, r)
		if page.status != http.StatusOK {
			continue
		}
		last := -1
		for line := range strings.SplitSeq(page.String(), "\n") {
			n, known := at[line]
			if !known {
				n, at[line], out.Lines = len(out.Lines), len(out.Lines), append(out.Lines, line)
			}
			out.Pages[p.Path] = append(out.Pages[p.Path], n-last)
			last = n
		}
	}
	return out
}

// inMemory takes a page that is part of an answer.
type inMemory struct {
	bytes.Buffer
	header http.Header
	status int
}

func (m *inMemory) Header() http.Header    { return m.header }
func (m *inMemory) WriteHeader(status int) { m.status = status }

func (s *server) keptPages(v *visit) ([]keptPage, error) {
	stations := v.stations()
	bags, err := s.svc.Shift.BagList(v.ctx(), v.actor, inventory.BagFilter{}, inventory.Page{}, lists.Outlook{Horizon: -1})
	if err != nil {
		return nil, err
	}
	days := make([]inventory.Day, len(stations))
	for i, x := range stations {
		days[i] = x.Today(v.now)
	}
	var first, forms []keptPage
	whole := s.markOf(v, days, stations, bags)
	first = append(first, keptPage{"/board", whole})
	first = append(first, keptPage{scanPath, s.look})
	for _, x := range v.stationLinks("/board", "") {
		first = append(first, keptPage{x.Href, whole})
	}
	vehicles := map[string]bool{}
	for _, b := range bags {
		if b.Vehicle != "" && b.Purpose != inventory.ForTraining && !vehicles[vehiclePath(b.AtStation, b.Vehicle)] {
			vehicles[vehiclePath(b.AtStation, b.Vehicle)] = true
			first = append(first, keptPage{vehiclePath(b.AtStation, b.Vehicle), whole})
		}
		mark, path := s.markOf(v, days, v.station(b.AtStation), b), bagPath(b.Code)
		first = append(first, keptPage{path, mark})
		for _, form := range []string{"/seal-check", "/full-check", "/use", "/out-of-service"} {
			forms = append(forms, keptPage{path + form, mark})
		}
	}
	return append(first, forms...), v.failed
}

// markOf sums up what pages show of something, with who looks and the look of pages.
func (s *server) markOf(v *visit, shown ...any) string {
	text, _ := json.Marshal(append(shown, v.actor.Name, s.look)) // plain structs: nothing in them refuses
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:6])
}

// queued tells whether a phone sends what it kept, by its script, and wants to know in short what became of it.
func (v *visit) queued() bool {
	return !v.reads() && v.GetHeader("Accept") == "application/json"
}

// madeAt returns when a form was filled in, as the phone that kept it says; none is just now.
func (v *visit) madeAt() inventory.Instant {
	return shift.DoneByPhone(instantIn(v.Request.PostForm.Get("recorded_at")), instantIn(v.GetHeader("Phone-Clock")),
		v.now)
}

// instantIn reads an instant as scripts write them; anything else is none.
func instantIn(text string) inventory.Instant {
	t, err := time.Parse(time.RFC3339, text)
	if err != nil {
		return 0
	}
	return inventory.InstantOf(t)
}

// sameRecorder refuses what somebody else recorded on this phone: it is sent when they are signed in.
func (v *visit) sameRecorder() error {
	by := v.Request.PostForm.Get("recorded_by")
	if by == "" || by == v.actor.Name || v.saidBy() != "" {
		return nil
	}
	return inventory.Refuse(inventory.Forbidden, "Recorded by someone else on this phone. Sent when they sign in.")
}

// saidBy is the name that was tapped on a phone without signal by whoever recorded what it sends now, empty where that
// is who is signed in.
func (v *visit) saidBy() string {
	by := inventory.OneLine(v.Request.PostForm.Get("recorded_by"))
	if v.Request.PostForm.Get("said") == "" || by == v.actor.Name || len(by) > 4*inventory.MaxName {
		return ""
	}
	return by
}

// asSaid adds to what was written whose it is said to be.
func (v *visit) asSaid(text string) string {
	said := inventory.SaidToBe(v.saidBy())
	switch {
	case v.saidBy() == "":
		return text
	case text == "":
		return v.s.texts.Text(said)
	}
	return v.s.texts.Text(message.M("{1} ({2})", text, said))
}

// stored tells a phone that what it sent is in the books, or waits there.
type stored struct {
	Person   string                 `json:"person"`
	Location string                 `json:"location"`
	Status   inventory.RecordStatus `json:"status"`
	Because  string                 `json:"because,omitempty"`
}

func (v *visit) sendStored(location string) error {
	out := stored{Person: v.actor.Name, Location: location, Status: inventory.StatusAccepted}
	u, err := url.Parse(location)
	if err != nil {
		return err
	}
	switch kind, id := doneIn(u.Query().Get("done")); kind {
	case "check":
		x, err := v.s.svc.Shift.Check(v.ctx(), v.actor, id)
		if err != nil {
			return err
		}
		out.Status, out.Because = x.Status, v.s.texts.Text(x.ReviewBecause)
	case "use":
		x, err := v.s.svc.Shift.Use(v.ctx(), v.actor, id)
		if err != nil {
			return err
		}
		out.Status, out.Because = x.Status, v.s.texts.Text(x.ReviewBecause)
	}
	v.JSON(http.StatusOK, out)
	return nil
}

// refusal tells a phone that what it sent was not recorded, and why.
type refusal struct {
	Person  string   `json:"person"`
	Refused string   `json:"refused"`
	Fixes   []string `json:"fixes,omitempty"`
}

// sendRefusal says in short what a page would say at length.
func (v *visit) sendRefusal(status int, p page) error {
	out := refusal{Person: v.actor.Name}
	say := v.s.texts.Text
	if e, isError := p.(*errorPage); isError {
		out.Refused = say(orElse(e.Message, e.Title))
		for _, x := range e.Fixes {
			out.Fixes = append(out.Fixes, say(x))
		}
	} else {
		f := p.base().Form
		out.Refused = say(f.Message)
		for _, x := range f.Fixes {
			out.Fixes = append(out.Fixes, say(message.Join(": ", x.Label, x.Text)))
		}
	}
	v.JSON(status, out)
	return nil
}
