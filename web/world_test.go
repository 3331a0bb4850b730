package web

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"sync/atomic"
	"testing"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/amount"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store/storetest"
	"stowkeeper/inventory/store/upload"
)

// plainSecrets keeps secrets as they are, since hashing them would take most
// of the tests' time.
type plainSecrets struct{}

func (plainSecrets) Hash(secret string) (string, error) { return "plain " + secret, nil }
func (plainSecrets) Match(hash, secret string) bool     { return hash == "plain "+secret }

// world is a small invented service on a real SQLite file: two stations in two
// time zones, their people, and a few bags in different states.
type world struct {
	t      testing.TB
	svc    *services.All
	router *gin.Engine
	clock  atomic.Int64     // in nanoseconds: a browser asks while a test moves it on
	lots   map[string]int64 // "TQ/A1" → lot id as received

	terminal string // secret of the terminal that people sign in on

	noPosts   atomic.Bool // nothing that a browser sends arrives
	newWorker atomic.Bool // the service has another worker than before
}

const adminName = "Ada Ministrator"

var admin = inventory.Actor{Name: adminName, Role: inventory.Administrator}

const (
	crewPIN  = "4711"
	password = "four lamps by night"
)

// people of the world: name, role, stations.
var people = []inventory.Person{
	{Name: "Kim Crew", Role: inventory.Crew, Stations: []string{"CEN"}},
	{Name: "Jo Crew", Role: inventory.Crew, Stations: []string{"CEN"}},
	{Name: "Lee Crew", Role: inventory.Crew, Stations: []string{"NOR"}},
	{Name: "Quinn Master", Role: inventory.Quartermaster, Stations: []string{"CEN", "NOR"}},
	{Name: "Max Manager", Role: inventory.Manager},
	{Name: "Ada Ministrator", Role: inventory.Administrator},
}

func secretOf(p inventory.Person) string {
	if p.Role == inventory.Crew {
		return crewPIN
	}
	return password
}

func newWorld(t testing.TB) *world {
	t.Helper()
	return newWorldIn(t, storetest.OpenSQLite(t))
}

// newWorldIn makes the world in an empty store.
func newWorldIn(t testing.TB, st inventory.Store) *world {
	t.Helper()
	gin.SetMode(gin.TestMode)
	w := &world{t: t, lots: map[string]int64{}, router: gin.New()}
	w.later(time.Duration(time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC).UnixNano()))
	w.svc = services.New(st, func() inventory.Instant { return inventory.InstantOf(w.now()) }, services.Options{})
	w.fill()
	tablet, err := w.svc.Account.AddTerminal(context.Background(), admin, "Tablet", "")
	require.NoError(t, err)
	w.terminal, err = w.svc.Account.EnrolHere(context.Background(), admin, tablet.ID)
	require.NoError(t, err)
	require.NoError(t, Mount(w.router, w.svc, w.options()))
	return w
}

func (w *world) now() time.Time { return time.Unix(0, w.clock.Load()).UTC() }

func (w *world) later(d time.Duration) { w.clock.Add(int64(d)) }

func quiet() *slog.Logger { return slog.New(slog.NewTextHandler(io.Discard, nil)) }

func (w *world) options() Options {
	o := Options{BaseURL: "https://stock.example.org", Secrets: plainSecrets{}, Logger: quiet(), Demo: true,
		Uploads: upload.In(w.svc.Store)}
	for _, p := range people {
		o.DemoSignIns = append(o.DemoSignIns, DemoSignIn{p.Name, string(p.Role), secretOf(p)})
	}
	return o
}

func (w *world) fill() {
	ctx := context.Background()
	do := func(_ any, err error) { w.t.Helper(); require.NoError(w.t, err) }
	do(w.svc.Lists.CreateStation(ctx, admin, inventory.Station{Code: "CEN", Name: "Central station",
		Timezone: "Europe/London"}))
	do(w.svc.Lists.CreateStation(ctx, admin, inventory.Station{Code: "NOR", Name: "North station",
		Timezone: "Europe/Athens"}))
	for _, p := range people {
		do(w.svc.Account.CreatePerson(ctx, admin, p, secretOf(p), plainSecrets{}))
	}
	item := func(code, name string, c inventory.Category, dated bool) {
		do(w.svc.Lists.CreateItem(ctx, admin, inventory.Item{Code: code, Name: name, Category: c, Unit: "each",
			TrackedBy: inventory.ByLot, Dated: dated}))
	}
	item("TQ", "Tourniquet, windlass, adult", inventory.CategoryTourniquet, true)
	item("MARK", "Permanent marker", inventory.CategoryMarker, false)
	item("CARD", "Record card", inventory.CategoryRecordCard, false)
	item("PRESS", "Pressure dressing, large", inventory.CategoryPressureDressing, true)
	item("PLAIN", "Plain dressing, 10 × 10 cm", inventory.CategoryPlainDressing, true)
	item("GLOVES", "Gloves, pair", inventory.CategoryProtective, false)
	item("SHEARS", "Shears", inventory.CategoryTool, false)
	item("PAIN", "Pain relief tablets, pack", inventory.CategoryPainRelief, true)
	do(w.svc.Lists.CreateItem(ctx, admin, inventory.Item{Code: "TRAINTQ", Name: "Tourniquet, training",
		Category: inventory.CategoryTourniquet, Unit: "each", TrackedBy: inventory.BySerial,
		Life: inventory.Life{TrainingCycles: 20}}))
	do(w.svc.Lists.CreateItem(ctx, admin, inventory.Item{Code: "SPLINT", Name: "Traction splint",
		Category: inventory.CategoryImmobilisation, Unit: "each", TrackedBy: inventory.BySerial,
		Life: inventory.Life{MadeMonths: 120, InspectDays: 90}, InspectionPoints: []string{"straightens", "padding whole"},
		InspectionNotes: []string{"bag there"}}))
	do(w.svc.Lists.CreateItem(ctx, admin, inventory.Item{Code: "EYE", Name: "Eyewash bottle",
		Category: inventory.CategoryMedicine, Unit: "each", TrackedBy: inventory.ByLot, Dated: true,
		Life: inventory.Life{OpenedDays: 7}}))
	do(w.svc.Lists.CreateItem(ctx, admin, inventory.Item{Code: "AMP", Name: "Controlled ampoule",
		Category: inventory.CategoryMedicine, Unit: "ampoule", TrackedBy: inventory.ByLot, Dated: true, Controlled: true,
		Content: amount.Content{Quantity: "100", Unit: "mg"}}))
	do(w.svc.Lists.CreateItem(ctx, admin, inventory.Item{Code: "OX", Name: "Pulse oximeter",
		Category: inventory.CategoryDiagnostic, Unit: "each", TrackedBy: inventory.BySerial}))
	pr, err := w.svc.Lists.CreateProduct(ctx, admin, inventory.Product{Item: "PRESS", MakerReference: "PD-10",
		Supplier: "Example Supplies", PackSize: 10})
	require.NoError(w.t, err)
	it, err := w.svc.Lists.Item(ctx, admin, "PRESS")
	require.NoError(w.t, err)
	it.PreferredProduct = pr.ID
	do(w.svc.Lists.UpdateItem(ctx, admin, it))
	do(w.svc.Lists.CreateKitList(ctx, admin, traumaList()))
	do(w.svc.Lists.CreateKitList(ctx, admin, inventory.KitList{Code: "MEDS", Name: "Medicine pouch",
		Lines: []inventory.Line{{Item: "AMP", Par: 4, Minimum: 1}, {Item: "OX", Par: 1}}}))
	w.stock()
	w.bags()
}

func traumaList() inventory.KitList {
	return inventory.KitList{Code: "TRAUMA", Name: "Trauma bag", Edition: "2026", Sealed: true, SealCheckHours: 24,
		FullCheckDays: 31, MinRemainingDays: 14,
		Lines: []inventory.Line{
			{Item: "TQ", Pouch: "Red pouch", Par: 2, Minimum: 2, Critical: true},
			{Item: "MARK", Pouch: "Red pouch", Par: 2, Minimum: 1},
			{Item: "CARD", Pouch: "Red pouch", PresenceOnly: true},
			{Item: "PRESS", Pouch: "Blue pouch", Par: 4, Minimum: 2},
			{Item: "PLAIN", Pouch: "Blue pouch", Par: 6, Minimum: 2},
			{Item: "GLOVES", Pouch: "Lid", Par: 4, Minimum: 2},
			{Item: "PLAIN", Pouch: "Lid", Par: 2, Minimum: 0},
			{Item: "SHEARS", Pouch: "Lid", Par: 1, Minimum: 1},
			{Item: "PAIN", CarriedElsewhere: "the medicine bag"},
		}, Rules: inventory.TourniquetRules()}
}

// receive books units in and remembers the lot.
func (w *world) receive(item, batchNo, end string, qty int) {
	w.t.Helper()
	w.receiveAt("CEN-STORE", item, batchNo, end, qty)
}

func (w *world) receiveAt(place, item, batchNo, end string, qty int) {
	w.t.Helper()
	l, err := w.svc.Ledger.Receive(context.Background(), w.signed(), inventory.Receipt{Place: place, Item: item,
		BatchNo: batchNo, EndPrinted: end, EndWording: wordingFor(end), Qty: qty})
	require.NoError(w.t, err)
	w.lots[item+"/"+batchNo] = l.ID
}

// signed is the administrator with the signatures of two people.
func (w *world) signed() inventory.Actor {
	w.t.Helper()
	by, err := w.svc.Account.Sign(context.Background(), admin,
		account.Signing{Signature: &account.Signature{PIN: password},
			Witness: &account.Signature{Person: "Quinn Master", PIN: password}}, plainSecrets{})
	require.NoError(w.t, err)
	return by
}

// device books a device in and remembers its lot.
func (w *world) device(place, item, serial, madeOn string) {
	w.t.Helper()
	l, err := w.svc.Ledger.Receive(context.Background(), admin, inventory.Receipt{Place: place, Item: item, Serial: serial,
		MadeOn: madeOn, Qty: 1})
	require.NoError(w.t, err)
	w.lots[item+"/"+serial] = l.ID
}

func (w *world) stock() {
	w.device("CEN-TRAINING", "TRAINTQ", "T1", "")
	w.device("CEN-TRAINING", "TRAINTQ", "T2", "")
	w.device("CEN-STORE", "SPLINT", "S1", "2020-01")
	w.device("CEN-STORE", "SPLINT", "S2", "2019-01")
	w.receive("TQ", "A1", "2029-06", 20)
	w.receive("MARK", "", "", 30)
	w.receive("CARD", "", "", 40)
	w.receive("PRESS", "P1", "2026-12-20", 10)
	w.receive("PRESS", "P2", "2028-05", 6)
	w.receive("PLAIN", "D1", "2026-11-25", 8)
	w.receive("PLAIN", "D2", "2027-09", 30)
	w.receive("GLOVES", "", "", 100)
	w.receive("SHEARS", "", "", 8)
	w.receiveAt("NOR-STORE", "AMP", "M1", "2027-03", 4)
	w.receive("EYE", "E1", "2027-11", 3)
}

// bags makes four bags: one ready, one with gaps, one that must not go out,
// one taken off; and one at the other station.
func (w *world) bags() {
	w.bag("CEN-01", "CEN", "Trauma bag 1", 1)
	w.bag("CEN-02", "CEN", "Trauma bag 2", 2)
	w.bag("CEN-03", "CEN", "Trauma bag 3", 2)
	w.bag("CEN-04", "CEN", "Spare trauma bag", 7)
	w.bag("NOR-01", "NOR", "Trauma bag north", 1)
	_, err := w.svc.Lists.CreateBag(context.Background(), admin, inventory.Bag{Code: "NOR-02", Station: "NOR",
		Name: "Medicine pouch north", KitList: "MEDS", Priority: 2})
	require.NoError(w.t, err)
	w.restock("CEN-01", "100234", "TQ/A1", 2, "MARK/", 2, "CARD/", 1, "PRESS/P2", 4, "PLAIN/D2", 8, "GLOVES/", 4,
		"SHEARS/", 1)
	w.restock("CEN-02", "100377", "TQ/A1", 2, "MARK/", 1, "CARD/", 1, "PRESS/P1", 4, "PLAIN/D1", 3, "GLOVES/", 4,
		"SHEARS/", 1)
	w.restock("CEN-03", "", "TQ/A1", 1, "MARK/", 2, "CARD/", 1, "PRESS/P1", 1, "PLAIN/D2", 2, "GLOVES/", 9, "SHEARS/", 1)
	reason := "zip torn, at the saddler's"
	_, err = w.svc.Lists.UpdateBag(context.Background(), admin, "CEN-04", 0, ledger.BagChange{OutOfService: &reason})
	require.NoError(w.t, err)
}

func (w *world) bag(code, station, name string, priority int) {
	w.t.Helper()
	_, err := w.svc.Lists.CreateBag(context.Background(), admin, inventory.Bag{Code: code, Station: station, Name: name,
		KitList: "TRAUMA", Priority: priority, Vehicle: "Vehicle " + code[4:]})
	require.NoError(w.t, err)
}

// retire takes an empty bag out of service.
func (w *world) retire(code, successor string) {
	w.t.Helper()
	yes := true
	_, err := w.svc.Lists.UpdateBag(context.Background(), admin, code, 0, ledger.BagChange{Retired: &yes,
		Successor: &successor})
	require.NoError(w.t, err)
}

// restock stows lots, given as name and quantity in turns, counts the bag and
// seals it.
func (w *world) restock(bag, seal string, lots ...any) {
	w.t.Helper()
	in := inventory.Restock{Bag: bag}
	for i := 0; i < len(lots); i += 2 {
		id, ok := w.lots[lots[i].(string)]
		require.True(w.t, ok, "lot %v", lots[i])
		in.Lines = append(in.Lines, inventory.RestockLine{LotID: id, Qty: lots[i+1].(int), From: "CEN-STORE"})
	}
	_, err := w.svc.Storeroom.RecordRestock(context.Background(), admin, in, 0)
	require.NoError(w.t, err)
	w.count(bag, seal)
}

// count makes a full check that finds all as expected.
func (w *world) count(bag, seal string) {
	w.t.Helper()
	c, err := w.svc.Shift.Checklist(context.Background(), admin, bag, lists.Outlook{})
	require.NoError(w.t, err)
	in := inventory.Check{Bag: bag, Kind: inventory.FullCheck, SeenPosition: c.Bag.Position, SealSet: seal}
	for _, g := range lists.ToCount(c) {
		for _, row := range g.Rows {
			for _, l := range row.Lots {
				in.Lines = append(in.Lines, inventory.CheckLine{LotID: l.LotID, Counted: l.Qty})
			}
		}
	}
	x, err := w.svc.Shift.RecordCheck(context.Background(), admin, in, fmt.Sprint("count ", bag, seal))
	require.NoError(w.t, err)
	require.Equal(w.t, inventory.StatusAccepted, x.Status, x.ReviewBecause.String())
}

// heads returns the ends of the stations' chains of movements: they change
// with every movement.
func (w *world) heads() []inventory.Head {
	w.t.Helper()
	var out []inventory.Head
	require.NoError(w.t, w.svc.Store.Read(context.Background(), func(_ context.Context, r inventory.Reader) error {
		for _, station := range []string{"CEN", "NOR"} {
			h, err := r.Head(station)
			if err != nil {
				return err
			}
			out = append(out, h)
		}
		return nil
	}))
	return out
}

// wordingFor words a printed date, where there is one.
func wordingFor(end string) inventory.Wording {
	if end == "" {
		return ""
	}
	return inventory.WordExpiry
}
