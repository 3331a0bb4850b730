package inventory

import (
	"context"
)

// Store keeps everything. One implementation exists, in inventory/store, for
// SQLite and PostgreSQL; its conformance tests are the promises made here.
type Store interface {
	// Read runs fn on one read-only snapshot: fn sees no half of a change. Inside a Write of the same context it
	// joins that unit of work. All Reads of a request that only looks (Look) see one snapshot, which lives until the
	// request is done. What a Read was told once it may be told from memory; lists are the caller's own, and what
	// stands inside their elements is not to be changed.
	Read(ctx context.Context, fn func(ctx context.Context, r Reader) error) error
	// Write runs fn in one unit of work: all of it happens, or, when fn returns an error or panics, none of it.
	// Inside another Write of the same context it joins it: an error then undoes what this fn did, and the one
	// outside may go on or not. Inside a Read, and in a request that only looks, it is refused. Writers of one
	// service take turns; on an engine with several writers fn may be run again after it lost a race or its server, so
	// it must not have effects outside the unit of work. A unit of work serves one goroutine. Refuses: InDoubt where the
	// server went away at its end.
	Write(ctx context.Context, fn func(ctx context.Context, w Writer) error) error
	// Try runs fn as Write does, to see what would come of it: fn sees the database as it was when Try began and what
	// it wrote itself, nothing of that is kept, and no other reader or writer sees it or waits for it. It takes as
	// long as copying the database besides. Inside a Write of the same context it tries fn there.
	Try(ctx context.Context, fn func(ctx context.Context, w Writer) error) error
	// Probe tells whether the database answers and takes a write, which changes nothing. Refuses: Unavailable,
	// StorageFull.
	Probe(ctx context.Context) error
	// Engine names the engine: sqlite or postgres.
	Engine() string
	Close() error
}

// Page asks for part of a list, in its order. Limit 0 means everything. After
// is the last key already seen: an id in decimal, or a code.
type Page struct {
	Limit int
	After string
}

// Reader is what a unit of work can read. A single thing that is not there gives a NotFound error; a list that is
// empty gives none. Lists are ordered by code or id, ascending, unless said otherwise.
type Reader interface {
	Categories() ([]Category, error)

	Station(code string) (Station, error)
	Stations() ([]Station, error)

	Place(code string) (Place, error) // also the five outside places and bags
	Places(f PlaceFilter, p Page) ([]Place, error)
	PlaceMoves() ([]PlaceMove, error)   // in the order in which they were made
	Conversions() ([]Conversion, error) // likewise

	Item(code string) (Item, error)
	Items(f ItemFilter, p Page) ([]Item, error)

	Product(id int64) (Product, error)
	Products(f ProductFilter, p Page) ([]Product, error)

	// KitList returns a version with lines and rules, the latest for version 0.
	KitList(code string, version int) (KitList, error)
	// KitLists returns the latest version of each list, with lines and rules.
	KitLists(p Page) ([]KitList, error)
	// KitListVersions returns versions with lines, modules and rules, by code and version: those named, and where
	// none is, every one in use by some bag; and those that are newer.
	KitListVersions(of []ListVersion) ([]KitList, error)

	Bag(code string) (Bag, error)
	Bags(f BagFilter, p Page) ([]Bag, error)

	Batch(id int64) (Batch, error)
	Batches(f BatchFilter) ([]Batch, error)
	// FindBatch returns the batch with that identity: by serial number where one is given (a serial number is unique
	// within an item), else by item, product and batch number.
	FindBatch(item string, product int64, batchNo, serial string) (Batch, error)
	Lot(id int64) (Lot, error)
	Lots(f LotFilter, p Page) ([]Lot, error)

	// Stock returns what lies in places inside the service, ordered by place
	// code and lot id. Quantities are above zero.
	Stock(f StockFilter) ([]Stock, error)

	Movement(id int64) (Movement, error)
	Movements(f MovementFilter, p Page) ([]Movement, error)
	// MovedSince returns what the movements after a position of a bag did to the quantities of each lot in it.
	MovedSince(bag string, position int64) (map[int64]int, error)
	// BagEvents lists what moved a bag's position on after a position, in order.
	BagEvents(bag string, after int64) ([]BagEvent, error)
	// Head returns the end of a station's chain.
	Head(station string) (Head, error)

	Check(id int64) (Check, error)
	Checks(f RecordFilter, p Page) ([]Check, error) // newest first
	Use(id int64) (Use, error)
	Uses(f RecordFilter, p Page) ([]Use, error)         // newest first
	Restocks(f RecordFilter, p Page) ([]Restock, error) // newest first
	Seals(f RecordFilter, p Page) ([]SealEntry, error)  // newest first
	Observations(f ObservationFilter) ([]Observation, error)
	// UnderReview returns the reports that are to review, each with what it says,
	// in the order of recording. Texts and what counts are left to CountReported.
	UnderReview(f UnderReviewFilter) ([]UnderReview, error)
	BagLog(f RecordFilter, p Page) ([]BagLogEntry, error)                // newest first
	VehiclesOutOfService(f VehicleFilter) ([]VehicleOutOfService, error) // newest first
	BatchCorrections(f BatchFilter) ([]BatchCorrection, error)

	// OwedEntries returns the movements that one person recorded alone, with the signatures given since. One is open
	// until its maker, where that is owed, and somebody else have signed.
	OwedEntries(f OwedFilter) ([]OwedEntry, error)
	OwedEntry(movement int64) (OwedEntry, error)
	BalanceChecks(f BalanceFilter) ([]BalanceCheck, error)
	Discrepancies(f DiscrepancyFilter) ([]Discrepancy, error) // in the order of recording
	// RegisterKeys returns every controlled item at every place inside the service where it ever moved or was
	// counted, with its last entry, by item and place.
	RegisterKeys() ([]PageKey, error)

	// Inspections and TrainingUses come newest first: by when they were made, and
	// where part of the list is asked for, as they were recorded.
	Inspections(f BatchFilter, p Page) ([]Inspection, error)
	TrainingUses(f BatchFilter, p Page) ([]TrainingUse, error)
	Notice(id int64) (Notice, error)
	Notices(f NoticeFilter, p Page) ([]Notice, error) // newest first

	Person(id int64) (Person, error)
	PersonByName(name string) (Person, error) // ignores case
	People() ([]Person, error)
	TokenByHash(hash string) (Token, error)
	AttemptsOf(subject string) (AttemptCounter, error) // nothing for a subject that is new
	Tokens() ([]Token, error)
	Session(hash string) (Session, error)
	Sessions(person int64) ([]Session, error) // the one last seen first; everybody's for 0
	Terminal(id int64) (Terminal, error)
	TerminalByHash(hash string) (Terminal, error)
	Terminals() ([]Terminal, error)
	Link(hash string) (Link, error)
	HistoryEntries(f HistoryFilter, p Page) ([]HistoryEntry, error) // newest first
	// RecordedAfter is the latest time after a moment at which something was recorded since the clock was last
	// confirmed; 0 for never.
	RecordedAfter(Instant) (Instant, error)

	// Heads returns the ends of all chains, the service's own first, then by station.
	Heads() ([]Head, error)
	// MovementGaps is how many numbers of movements were left out in what SQLite took over from another engine.
	MovementGaps() (int64, error)
	// ChainEntries gives the entries of the chains, by chain and number.
	ChainEntries(f ChainFilter, do func(ChainEntry) error) error
	// Facts gives every row that is a fact as it is now, by table, and balances.
	Facts(do func(Fact) error) error
	// Actors returns the numbers by which people and programs stand in the chains.
	Actors() (map[string]int64, error)

	// SheetOffsets returns what was kept for the sheets of a station, by sheet.
	SheetOffsets(station string) ([]SheetOffset, error)

	// PastUsage returns what was used before, by station, item and period.
	PastUsage(f UsageFilter) ([]PastUsage, error)

	Delivery(id int64) (Delivery, error)
	// OpenDeliveries returns those of some stations that are still being scanned,
	// newest first; of every station where none is named.
	OpenDeliveries(stations []string) ([]Delivery, error)

	Document(id int64) (Document, error)
	Documents(f DocumentFilter, p Page) ([]Document, error) // newest first
	Shelves(stations []string) ([]Shelf, error)             // by place

	// ToJudge lists bags of which nothing that is kept holds at an instant, by code, retired ones too; 0 for all.
	ToJudge(now Instant, limit int) ([]string, error)
	// KeptOf returns what is kept and holds, by bag: of every one, or of those of which a report has something to say.
	KeptOf(now Instant, says bool) ([]Kept, error)
	// KeptCounts counts the bags of a purpose of which something is kept that holds, modules apart, by station.
	KeptCounts(now Instant, of Purpose) (map[string]BagCounts, error)
	// KeptStops returns the first of the days on which bags of a purpose stop, at some stations, by what holds.
	KeptStops(now Instant, of Purpose, stations []string, limit int) ([]FirstStop, error)

	// Answer returns the kept answer to a request that was made before.
	Answer(k RequestKey) (Answer, error)
}

// Writer is what a unit of work can write besides reading. A code that is taken, and any other broken constraint,
// gives a Conflict; an update of a version that is no longer the newest gives Stale. A method that fails has changed
// nothing, and the unit of work can go on.
type Writer interface {
	Reader

	AddCategory(c Category) error
	AddStation(s Station) error
	// UpdateStation changes all but name and time zone. Places of a station that is closed are listed only where retired
	// bags are asked for too.
	UpdateStation(s Station) error
	AddPlace(p Place) error
	// UpdatePlace changes a place; p.Version is the one it replaces, and 0
	// skips that check. Its station, kind and purpose are for good: Conflict.
	UpdatePlace(p Place) (Place, error)
	// MovePlace gives a bag or another place to a station: later movements belong to that one's chain, by PlaceMoves.
	// Where it was at its own station it is at the other one then. The stations of both are locked.
	MovePlace(code, station string, at Instant) error
	AddItem(it Item) error
	UpdateItem(it Item) (Item, error)
	AddProduct(p Product) (Product, error)
	UpdateProduct(p Product) (Product, error)
	AddConversion(c Conversion) error // its Until is the last movement that there is
	// AddKitList stores the version that k carries, with its lines and rules.
	// It must be the next one: Stale where that exists already.
	AddKitList(k KitList) error
	// AddBag stores a bag and its place. One made inside another moves that bag's position on.
	AddBag(b Bag) error
	// UpdateBag stores what people may change of a bag; BagRecord is left alone, except that a new kit list or
	// version moves the position on; a bag that goes into another or out of it moves that one's position on. Its
	// owning station and its purpose are for good: Conflict.
	UpdateBag(b Bag) (Bag, error)
	// SetBagRecord stores what checks and seals say of a bag; the position is left alone.
	SetBagRecord(code string, r BagRecord) error
	// LockBag returns a bag, and makes other units of work that would change it wait until this one ends.
	LockBag(code string) (Bag, error)
	// LockBags makes other units of work that would change these bags wait
	// until this one ends. Codes that are no bag are skipped.
	LockBags(codes []string) error

	// LockItem makes other units of work that lock this item wait until this one ends. Who changes the record of a
	// batch, or adds notices or batches, locks their item first, so that none works from older facts.
	LockItem(code string) error

	AddBatches(bs []Batch) ([]Batch, error) // numbered in this order
	// SetBatchRecord stores what inspections, classes and notices say of a batch.
	SetBatchRecord(id int64, r BatchRecord) error
	// CorrectBatch stores anew what is printed on a batch, with what was recorded of it before, and keeps the
	// correction. A number that another batch has gives a Conflict.
	CorrectBatch(b Batch, c BatchCorrection) (BatchCorrection, error)
	// EnsureLots returns the lots of these batches with these clocks, each named once, made in this order where need be.
	EnsureLots(ls []Lot) ([]Lot, error)
	// AppendMovements puts movements at the end of their stations' chains and changes the balances: it fills in ID,
	// Seq, PrevHash and Hash (by ChainHash, with the numbers of Actors), and moves on the position of every bag
	// touched. Station rows are locked in code order. A balance that would go below zero gives a Conflict, and so
	// does a second correction of one movement, or a serial number that would be in two places. It judges no other
	// rule. None gives none.
	AppendMovements(ms []Movement) ([]Movement, error)

	AddCheck(c Check, key string) (Check, error) // key is unique for ever; empty for none
	SetCheckOutcome(c Check) error               // Status, ReviewBecause and Decision
	AddUse(u Use, key string) (Use, error)
	SetUseOutcome(u Use) error
	AddRestock(r Restock) (Restock, error)
	// AddSeal adds to a bag's log of seals and moves its position on, except
	// for an entry that says the seal was seen in order.
	AddSeal(e SealEntry) error
	AddBagLog(e BagLogEntry) error
	AddVehicleOutOfService(v VehicleOutOfService) (VehicleOutOfService, error) // Conflict where it is off already
	// BackAt and BackBy; Conflict where it is back already
	EndVehicleOutOfService(v VehicleOutOfService) error
	AddObservation(o Observation) (Observation, error)
	CloseObservation(o Observation) error // Conflict where it is closed already
	AddReported(says []Reported) error    // what a report that comes to review says
	SetReported(says []Reported) error    // Settled and Pool

	// LockStations makes other units of work that would change the balances of
	// these stations' places wait until this one ends.
	LockStations(codes []string) error
	// AddOwed notes that a second person has still to sign for a movement, and whether its maker has.
	AddOwed(movement int64, own bool) error
	// AddEntrySignature keeps a signature for a movement that owes one:
	// Conflict where it does not, or where that person has signed it.
	AddEntrySignature(s EntrySignature) error
	AddBalanceCheck(c BalanceCheck) (BalanceCheck, error)
	AddDiscrepancy(d Discrepancy) (Discrepancy, error)
	CloseDiscrepancy(d Discrepancy) error // Conflict where it is closed already

	AddInspection(i Inspection) (Inspection, error)
	AddTrainingUse(t TrainingUse) (TrainingUse, error)
	AddNotice(n Notice) (Notice, error)
	SetNoticeOutcome(n Notice) error // Status, EndedAt, EndedBy and EndReason
	// SetNoticeSteps stores a notice's steps; the item is locked, so that none is lost.
	SetNoticeSteps(n Notice) error

	AddPerson(p Person) (Person, error)
	UpdatePerson(p Person) error
	// LockPerson returns a person, and makes other units of work that lock the same one wait until this one ends.
	LockPerson(id int64) (Person, error)
	SetPersonAttempts(person int64, tries int, lockedTill Instant) error
	AddToken(t Token) (Token, error)
	UpdateToken(t Token) error
	TouchToken(id int64, used Day) error // the day of its last use, and nothing else
	AddSession(s Session) error          // forgets those that ended before it began
	TouchSession(hash string, seen Instant) error
	EndSession(hash string) error
	// EndSessions forgets every session of a person, or opened on a terminal; 0 stands for nobody and for none.
	EndSessions(person, terminal int64) error
	AddTerminal(t Terminal) (Terminal, error)
	UpdateTerminal(t Terminal) error // Hash, EnrolledAt, RevokedAt and LastUsed
	// AddLink keeps a one-time link in the place of the one before for the same.
	AddLink(l Link) error
	UseLink(hash string) error // NotFound for who comes second
	// LockAttempts returns what is counted of some subjects, nothing for one that is new, and makes other units of
	// work that lock one of them wait until this one ends.
	LockAttempts(subjects []string) ([]AttemptCounter, error)
	SetAttempts(t AttemptCounter) error // of a subject that was locked
	ForgetAttempts(before Instant) error
	// AddHistory adds to the history, at the end of the unit of work. An entry tells of the rows that were written
	// before it, since the one before: how they became stands in it, and it in the chain of the station that owns its
	// place, or that it names, or else of the service. Rows that none tells of get an entry of their own.
	AddHistory(ds []HistoryEntry) error

	// SetSheetOffset keeps an offset in the place of the one before.
	SetSheetOffset(o SheetOffset) error

	// SetPastUsage keeps what a station used of an item in a period, in the place of what was kept for it before.
	SetPastUsage(u PastUsage) error

	AddDelivery(d Delivery) (Delivery, error)
	// LockDelivery returns a delivery, and makes other units of work that lock the same one wait until this one ends.
	LockDelivery(id int64) (Delivery, error)
	SetDelivery(d Delivery) error // its reference, lines and outcome

	AddDocument(d Document) (Document, error)
	// LockDocument returns a document, and makes other units of work that lock the same one wait until this one ends.
	LockDocument(id int64) (Document, error)
	SetDocument(d Document) error // its place, status, body and end

	// LockKept makes other units of work that touch bags wait until this one ends, and waits for those that did. Whoever
	// records something on which what is kept of a bag rests makes it hold no longer.
	LockKept() error
	PutKept(all []Kept) error

	// KeepAnswer stores the answer to a request. A key that is taken already gives a Conflict; on an engine with
	// several writers it first waits for the unit of work that holds it.
	KeepAnswer(k RequestKey, a Answer) error
}

// PlaceFilter narrows a list of places; empty fields do not narrow. Outside places, bags that are retired, places of
// stations that are closed and those of transfers are listed only where asked for.
type PlaceFilter struct {
	Codes    []string // only these, where any are named, whatever they are
	Stations []string
	Kind     PlaceKind
	Retired  bool // also bags that are retired, and places of closed stations and of transfers
	Vehicle  string
}

// VehicleFilter narrows a list of vehicles that were taken off.
type VehicleFilter struct {
	Stations []string
	Vehicle  string
	Now      bool // only those that are off now
}

// ItemFilter narrows a list of items.
type ItemFilter struct {
	Codes    []string // only these, where any are named
	Category Category
	Text     string // part of code or name, ignoring case
}

// ProductFilter narrows a list of products.
type ProductFilter struct {
	Item  string
	Items []string // only of these, where any are named
	GTIN  string
	HIBC  string
}

// BagFilter narrows a list of bags. AtStations is about where the bag is. Bags
// that are retired are left out unless asked for.
type BagFilter struct {
	Codes      []string // only these, where any are named
	Retired    bool     // also those that are retired
	AtStations []string
	Purpose    Purpose
	KitList    string
	Inside     string
	Vehicle    string

	Lent bool // only those that are not at the station that owns them
}

// BatchFilter narrows a list of batches, or of what is kept of batches.
type BatchFilter struct {
	IDs       []int64 // only these, where any are named
	Items     []string
	Numbers   [][2]string // item and number of batches besides Items, of which then only devices and the numberless count
	EverItems []string    // batches that are or once were recorded as of one of these items
	Stations  []string    // batches with units at one of these stations
}

// LotFilter narrows a list of lots.
type LotFilter struct {
	IDs             []int64 // only these, where any are named
	Item            string
	BatchNo, Serial string   // that its batch ever bore, by FoldNumber
	Number          string   // part of any number that its batch ever bore, by FoldNumber
	Place           string   // lots with a quantity there
	Stations        []string // lots with a quantity at one of these stations
	Batch           int64

	Devices bool // only those with a serial number
	Held    bool // only those with a quantity somewhere, or in Place or at Stations

	Last PlaceKind // only devices that went to this place outside the last time, as what they were then

	AsOf Day // narrows nothing: the day that the use case works dates out for, 0 for today
}

// NoticeFilter narrows a list of notices.
type NoticeFilter struct {
	Item   string
	Status NoticeStatus
}

// StockFilter narrows a reading of stock. Station is that of the place, of a bag that where it is.
type StockFilter struct {
	Stations []string
	Kinds    []PlaceKind
	Purpose  Purpose
	Places   []string
	Items    []string
	Batches  []int64
	Lots     []int64
}

// MovementFilter narrows a list of movements.
type MovementFilter struct {
	Station    string   // of the chain
	Stations   []string // of the chain, or of a place at either end, now or then
	Place      string   // from or to
	LotID      int64    // before or after
	Batch      int64
	Batches    []int64
	Item       string
	Reason     Reason
	References []string
	Since      Instant // recorded at or after
	Newest     bool    // newest first
}

// RecordFilter narrows a list of what is recorded of bags: checks, uses, restocks, seals and changes.
type RecordFilter struct {
	Bag        string
	Status     RecordStatus // of a check or use
	By         string       // who made it
	Claimed    bool         // only what is said to be theirs, and not confirmed
	Since      Instant      // made at or after, for checks, uses and seals as the crew's clock had it
	Number     string       // of a use its incident, of a seal its number; case, blanks and hyphens do not count
	AtStations []string
}

// ObservationFilter narrows a list of observations.
type ObservationFilter struct {
	Bags       []string
	AtStations []string
	Open       bool // only those not closed
}

// UnderReviewFilter narrows a list of reports under review. Of one that is about another bag as well, what it says of
// bags that are not asked about is left out.
type UnderReviewFilter struct {
	Places     []string // bags that they are about, or took units from
	AtStations []string // where such a bag is
	Of         ReportKey
}

// RequestKey names a request that must not count twice.
type RequestKey struct {
	Key       string // as the client sent it
	Principal string // who asked
	Method    string
	Path      string
}

// Answer is the kept answer to a request.
type Answer struct {
	BodyHash    string // SHA-256 of the canonical request body, in hexadecimal
	Status      int
	ContentType string
	Body        []byte
	CreatedAt   Instant
}
