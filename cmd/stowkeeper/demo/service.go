package demo

import (
	"context"
	"io/fs"
	"time"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/money"
	"stowkeeper/inventory/services"
)

// scenario loads the demo through the same use cases as real input, under a
// clock of its own, so that what was recorded last spring says so.
type scenario struct {
	ctx      context.Context // of the unit of work that is under way
	svc      *services.All
	now      inventory.Instant // the scenario's clock
	end      inventory.Instant // when it is loaded: the scenario ends then
	stations []inventory.Station
	bags     []inventory.Bag
	lists    map[string]inventory.KitList
	items    map[string]demoItem
	staff    map[string]inventory.Actor // crew by station, the others by role
	dice     *dice
	lots     int    // numbers handed out for batch numbers
	doing    string // what is told just now, for errors

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
func (s *scenario) setUp(fsys fs.FS, secrets account.Secrets) {
	s.makeStations(fsys)
	s.makePeople(fsys, secrets)
	s.makeItems(fsys)
	s.makeLists(fsys)
	s.makeBags(fsys)
}

func (s *scenario) makeStations(fsys fs.FS) {
	for _, r := range must(table(fsys, "stations")) {
		station := must(s.svc.Lists.CreateStation(s.ctx, founder, inventory.Station{Code: r["code"], Name: r["name"],
			Timezone: r["timezone"]}))
		s.stations = append(s.stations, station)
	}
}

func (s *scenario) makePeople(fsys fs.FS, secrets account.Secrets) {
	s.staff = map[string]inventory.Actor{}
	for _, p := range must(SignIns(fsys)) {
		person := inventory.Person{Name: p.Name, Role: inventory.Role(p.Role),
			Stations: row{"stations": p.Stations}.list("stations")}
		must(s.svc.Account.CreatePerson(s.ctx, founder, person, p.Secret, secrets))
		actor := inventory.Actor{Name: person.Name, Role: person.Role, Stations: person.Stations}
		s.staff[p.Role] = actor
		if person.Role == inventory.Crew {
			s.staff[p.Stations] = actor
		}
	}
}

func (s *scenario) makeItems(fsys fs.FS) {
	s.items = map[string]demoItem{}
	for i, r := range must(table(fsys, "items")) {
		it := inventory.Item{
			Code: r["code"], Name: r["name"], Category: inventory.Category(r["category"]), Unit: r["unit"],
			TrackedBy: inventory.Tracking(r["tracked_by"]), Dated: r.yes("dated"), SingleUse: r.yes("single_use"),
			LeadTimeDays: 10,
			Life: inventory.Life{MadeMonths: r.num("made_months"), StowedMonths: r.num("stowed_months"),
				ExposedDays: r.num("exposed_days"),
				OpenedDays:  r.num("opened_days"), InspectDays: r.num("inspect_days"), TrainingCycles: r.num("training_cycles")},
		}
		it.InspectionPoints, it.InspectionNotes = offered(r["points"])
		it = must(s.svc.Lists.CreateItem(s.ctx, founder, it))
		pr := must(s.svc.Lists.CreateProduct(s.ctx, founder, inventory.Product{Item: it.Code, GTIN: exampleGTIN(i),
			Supplier: r["supplier"], PackSize: r.num("pack_size"), Prices: []inventory.Price{{ValidFrom: s.now.InUTC(),
				Amount: money.Amount{Minor: int64(r.num("price_cents")), Currency: "EUR"}}}}))
		it.PreferredProduct = pr.ID
		it = must(s.svc.Lists.UpdateItem(s.ctx, founder, it))
		s.items[it.Code] = demoItem{Item: it, shelfMonths: r.num("shelf_months"), pack: r.num("pack_size"), product: pr.ID}
	}
}

// offered returns the points that are offered for a kind of device.
func offered(kind string) (points, notes []string) {
	for _, p := range lists.OfferedPoints() {
		if p.Kind == kind {
			return p.Points, p.Notes
		}
	}
	return nil, nil
}

// exampleGTIN makes a GTIN-13 with the prefix 952, which GS1 keeps for examples.
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

func (s *scenario) makeLists(fsys fs.FS) {
	lines := must(table(fsys, "lines"))
	s.lists = map[string]inventory.KitList{}
	for _, r := range must(table(fsys, "kit-lists")) {
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
		s.lists[k.Code] = must(s.svc.Lists.CreateKitList(s.ctx, founder, k))
	}
}

func (s *scenario) makeBags(fsys fs.FS) {
	for _, r := range must(table(fsys, "bags")) {
		b := must(s.svc.Lists.CreateBag(s.ctx, founder, inventory.Bag{
			Code: r["code"], Station: r["station"], Name: r["name"], KitList: r["kit_list"],
			Priority: r.num("priority"), Purpose: inventory.Purpose(r["purpose"]), Vehicle: r["vehicle"], Inside: r["inside"],
		}))
		s.bags = append(s.bags, b)
	}
}

// at sets the scenario's clock to a local time on a day, or, for a time that has not come yet, leaves the event out.
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
