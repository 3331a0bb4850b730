package demo

import (
	"context"
	"io/fs"
	"time"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/services"
)

// scenario loads the demo through the same use cases as real input, under a
// clock of its own, so that what was recorded last spring says so.
type scenario struct {
	svc      *services.All
	now      inventory.Instant // the scenario's clock
	end      inventory.Instant // when it is loaded: the scenario ends then
	stations []inventory.Station
	bags     []inventory.Bag
	lists    map[string]inventory.KitList
	items    map[string]demoItem
	staff    map[string]inventory.Actor // crew by station, the others by role
	dice     *dice
	lots     int // numbers handed out for batch numbers

	devices int            // numbers handed out for serial numbers
	reused  map[string]int // by station, devices that came back from use since its last round
	recall  int64          // the notice that ends well

	received map[string]int    // receipts by station
	idle     map[string]string // by bag, when a restock last found nothing to do
}

// demoItem is an item with what only the demo knows of it.
type demoItem struct {
	inventory.Item
	shelfMonths int
	pack        int
	product     int64
}

// SignIn is a person of the demo with the secret to sign in with.
type SignIn struct {
	Name, Role, Stations, Secret string
}

// SignIns lists the people of the demo.
func SignIns(fsys fs.FS) ([]SignIn, error) {
	rows, err := table(fsys, "people")
	var out []SignIn
	for _, r := range rows {
		out = append(out, SignIn{r["name"], r["role"], r["stations"], r["secret"]})
	}
	return out, err
}

// founder sets the service up before anybody can sign in.
var founder = inventory.Actor{Name: "demo", Role: inventory.Administrator}

// setUp makes stations, people, items, products, kit lists and bags.
func (s *scenario) setUp(ctx context.Context, fsys fs.FS, secrets account.Secrets) error {
	steps := []func(context.Context, fs.FS) error{
		s.makeStations,
		func(ctx context.Context, fsys fs.FS) error { return s.makePeople(ctx, fsys, secrets) },
		s.makeItems, s.makeLists, s.makeBags,
	}
	for _, step := range steps {
		if err := step(ctx, fsys); err != nil {
			return err
		}
	}
	return nil
}

func (s *scenario) makeStations(ctx context.Context, fsys fs.FS) error {
	rows, err := table(fsys, "stations")
	for _, r := range rows {
		station, err := s.svc.Lists.CreateStation(ctx, founder, inventory.Station{Code: r["code"], Name: r["name"],
			Timezone: r["timezone"]})
		if err != nil {
			return err
		}
		s.stations = append(s.stations, station)
	}
	return err
}

func (s *scenario) makePeople(ctx context.Context, fsys fs.FS, secrets account.Secrets) error {
	people, err := SignIns(fsys)
	s.staff = map[string]inventory.Actor{}
	for _, p := range people {
		person := inventory.Person{Name: p.Name, Role: inventory.Role(p.Role),
			Stations: row{"stations": p.Stations}.list("stations")}
		if _, err := s.svc.Account.CreatePerson(ctx, founder, person, p.Secret, secrets); err != nil {
			return err
		}
		actor := inventory.Actor{Name: person.Name, Role: person.Role, Stations: person.Stations}
		s.staff[p.Role] = actor
		if person.Role == inventory.Crew {
			s.staff[p.Stations] = actor
		}
	}
	return err
}

func (s *scenario) makeItems(ctx context.Context, fsys fs.FS) error {
	rows, err := table(fsys, "items")
	s.items = map[string]demoItem{}
	for i, r := range rows {
		it := inventory.Item{
			Code: r["code"], Name: r["name"], Category: inventory.Category(r["category"]), Unit: r["unit"],
			TrackedBy: inventory.Tracking(r["tracked_by"]), Dated: r.yes("dated"), SingleUse: r.yes("single_use"),
			LeadTimeDays: 10,
			Life: inventory.Life{MadeMonths: r.num("made_months"), StowedMonths: r.num("stowed_months"),
				ExposedDays: r.num("exposed_days"),
				OpenedDays:  r.num("opened_days"), InspectDays: r.num("inspect_days"), TrainingCycles: r.num("training_cycles")},
		}
		it.InspectionPoints, it.InspectionNotes = offered(r["points"])
		if it, err = s.svc.Lists.CreateItem(ctx, founder, it); err != nil {
			return err
		}
		pr, err := s.svc.Lists.CreateProduct(ctx, founder, inventory.Product{Item: it.Code, GTIN: exampleGTIN(i),
			Supplier: r["supplier"], PackSize: r.num("pack_size")})
		if err != nil {
			return err
		}
		it.PreferredProduct = pr.ID
		if it, err = s.svc.Lists.UpdateItem(ctx, founder, it); err != nil {
			return err
		}
		s.items[it.Code] = demoItem{Item: it, shelfMonths: r.num("shelf_months"), pack: r.num("pack_size"), product: pr.ID}
	}
	return err
}

// offered returns the points that are offered for a kind of device.
func offered(kind string) (points, notes []string) {
	for _, p := range inventory.OfferedPoints() {
		if p.Kind == kind {
			return p.Points, p.Notes
		}
	}
	return nil, nil
}

// exampleGTIN makes a GTIN-13 with the prefix 952, which GS1 keeps for
// examples.
func exampleGTIN(n int) string {
	digits := []byte("952000000000")
	for i := len(digits) - 1; n > 0; i-- {
		digits[i] = byte('0' + n%10)
		n /= 10
	}
	sum := 0
	for i, d := range digits {
		sum += int(d-'0') * (1 + 2*(i%2))
	}
	return string(digits) + string(byte('0'+(10-sum%10)%10))
}

func (s *scenario) makeLists(ctx context.Context, fsys fs.FS) error {
	lines, err := table(fsys, "lines")
	if err != nil {
		return err
	}
	rows, err := table(fsys, "kit-lists")
	s.lists = map[string]inventory.KitList{}
	for _, r := range rows {
		k := inventory.KitList{
			Code: r["code"], Name: r["name"], Edition: r["edition"], Sealed: r.yes("sealed"),
			SealCheckHours: r.num("seal_check_hours"), FullCheckDays: r.num("full_check_days"),
			MinRemainingDays: r.num("min_remaining_days"),
		}
		if r["rules"] == "tourniquet" {
			k.Rules = inventory.TourniquetRules()
		}
		for _, m := range r.list("modules") {
			k.Modules = append(k.Modules, inventory.Module{KitList: m, Count: 1})
		}
		for _, l := range lines {
			if l["kit_list"] == k.Code {
				k.Lines = append(k.Lines, inventory.Line{
					Item: l["item"], Pouch: l["pouch"], Par: l.num("par"), Minimum: l.num("minimum"), Critical: l.yes("critical"),
					PresenceOnly: l.yes("presence_only"), CarriedElsewhere: l["carried_elsewhere"], Accepts: l.list("accepts"),
				})
			}
		}
		if s.lists[k.Code], err = s.svc.Lists.CreateKitList(ctx, founder, k); err != nil {
			return err
		}
	}
	return err
}

func (s *scenario) makeBags(ctx context.Context, fsys fs.FS) error {
	rows, err := table(fsys, "bags")
	for _, r := range rows {
		b, err := s.svc.Lists.CreateBag(ctx, founder, inventory.Bag{
			Code: r["code"], Station: r["station"], Name: r["name"], KitList: r["kit_list"],
			Priority: r.num("priority"), Purpose: inventory.Purpose(r["purpose"]), Vehicle: r["vehicle"], Inside: r["inside"],
		})
		if err != nil {
			return err
		}
		s.bags = append(s.bags, b)
	}
	return err
}

// at sets the scenario's clock to a local time on a day, or, for a time that
// has not come yet, leaves the event out.
func (s *scenario) at(station inventory.Station, day inventory.Day, hour, minute int) bool {
	zone, err := inventory.Zone(station.Timezone)
	if err != nil {
		return false
	}
	t := day.Start(zone).Add(time.Duration(hour)*time.Hour + time.Duration(minute)*time.Minute)
	if t > s.end || t < s.now {
		return false
	}
	s.now = t
	return true
}

func (s *scenario) station(code string) inventory.Station {
	for _, x := range s.stations {
		if x.Code == code {
			return x
		}
	}
	return inventory.Station{}
}
