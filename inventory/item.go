package inventory

import (
	"slices"

	"stowkeeper/inventory/amount"
	"stowkeeper/inventory/message"
)

// Category groups items for kit rules and reports. It is one of a checked
// list that the owner can extend, never free text.
type Category string

// The categories that every service starts with.
const (
	CategoryTourniquet       Category = "tourniquet"
	CategoryMarker           Category = "marker"
	CategoryRecordCard       Category = "record card"
	CategoryPressureDressing Category = "pressure dressing"
	CategoryPlainDressing    Category = "plain dressing"
	CategoryHaemostatic      Category = "haemostatic"
	CategoryAirway           Category = "airway"
	CategoryImmobilisation   Category = "immobilisation"
	CategoryPainRelief       Category = "pain relief"
	CategoryMedicine         Category = "medicine"
	CategoryDiagnostic       Category = "diagnostic"
	CategoryProtective       Category = "protective"
	CategoryTool             Category = "tool"
	CategoryOther            Category = "other"
)

// Categories is the list that every service starts with.
var Categories = []Category{
	CategoryTourniquet, CategoryMarker, CategoryRecordCard, CategoryPressureDressing, CategoryPlainDressing,
	CategoryHaemostatic, CategoryAirway, CategoryImmobilisation, CategoryPainRelief, CategoryMedicine,
	CategoryDiagnostic, CategoryProtective, CategoryTool, CategoryOther,
}

// Text is the category in words; one that a service made itself is its own word.
func (c Category) Text() message.Message {
	if m, ok := categoryWords[c]; ok {
		return m
	}
	return message.Plain(string(c))
}

var categoryWords = map[Category]message.Message{
	CategoryTourniquet: message.M("tourniquet"), CategoryMarker: message.M("marker"),
	CategoryRecordCard: message.M("record card"), CategoryPressureDressing: message.M("pressure dressing"),
	CategoryPlainDressing: message.M("plain dressing"), CategoryHaemostatic: message.M("haemostatic"),
	CategoryAirway: message.M("airway"), CategoryImmobilisation: message.M("immobilisation"),
	CategoryPainRelief: message.M("pain relief"), CategoryMedicine: message.M("medicine"),
	CategoryDiagnostic: message.M("diagnostic"), CategoryProtective: message.M("protective"),
	CategoryTool: message.M("tool"), CategoryOther: message.M("other"),
}

// Medicinal tells whether the category is a medicine in the sense of how packs
// word their dates, and of what may never be given to training.
func (c Category) Medicinal() bool { return c == CategoryMedicine || c == CategoryPainRelief }

// Tracking says what tells one unit of an item from another.
type Tracking string

// The two ways of tracking.
const (
	ByLot    Tracking = "lot"    // by batch number: units of a batch are alike
	BySerial Tracking = "serial" // by serial number: each unit is a device
)

// Life holds an item's life rules. A zero limit means that the item has none.
// All of them are the owner's policy; only a printed date is the maker's.
type Life struct {
	MadeMonths     int `json:"made_months,omitempty" minimum:"0" maximum:"600" doc:"Usable so long after manufacture"`
	StowedMonths   int `json:"stowed_months,omitempty" minimum:"0" maximum:"600" doc:"Usable so long after first stowed"`
	ExposedDays    int `json:"exposed_days,omitempty" minimum:"0" maximum:"36500" doc:"Usable so many days exposed"`
	OpenedDays     int `json:"opened_days,omitempty" minimum:"0" maximum:"36500" doc:"Usable so many days opened"`
	InspectDays    int `json:"inspect_days,omitempty" minimum:"0" maximum:"36500" doc:"Inspection due every so often"`
	TrainingCycles int `json:"training_cycles,omitempty" minimum:"0" maximum:"1000000" doc:"Training uses it lasts"`
}

// Item is what a kit list asks for.
type Item struct {
	Code       string   `json:"code" doc:"Code given by people"`
	Name       string   `json:"name" doc:"Name as the trade says it"`
	Category   Category `json:"category" doc:"One of the service's categories"`
	Unit       string   `json:"unit" doc:"What one of it is: each, pair, roll, box, ml …"`
	TrackedBy  Tracking `json:"tracked_by" enum:"lot,serial" doc:"How units are told apart"`
	Dated      bool     `json:"dated" doc:"Whether packs have a date and a batch number to record"`
	SingleUse  bool     `json:"single_use" doc:"Used on one patient, then at the end of its life"`
	Controlled bool     `json:"controlled" doc:"Kept in a register: two people sign whatever moves it"`
	Strength   string   `json:"strength,omitempty" doc:"Of a medicine, as in 10 mg in 1 ml"`
	Form       string   `json:"form,omitempty" doc:"Of a medicine, as in ampoule; at the head of its register"`
	Life       Life     `json:"life" doc:"Life rules, the owner's policy"`

	Content amount.Content `json:"content,omitzero" doc:"Of one unit: given and wasted of a controlled item add up to it"`

	InspectionPoints []string `json:"inspection_points,omitempty" doc:"Points; one that fails stops it"`
	InspectionNotes  []string `json:"inspection_notes,omitempty" doc:"Points that are only noted"`
	PreferredProduct int64    `json:"preferred_product,omitempty" doc:"The product to buy, by id"`
	LeadTimeDays     int      `json:"lead_time_days,omitempty" minimum:"0" maximum:"1000" doc:"Days from order on"`
	Reserve          int      `json:"reserve,omitempty" minimum:"0" maximum:"1000000" doc:"Units no transfer takes"`
	Version          int64    `json:"version" doc:"Goes up with each change; the ETag"`
}

// Check refuses an item whose fields do not make sense. categories is the owner's list. Refuses: Invalid by field.
func (it Item) Check(categories []Category) error {
	var p Problems
	CheckCode(&p, "code", it.Code)
	CheckName(&p, "name", it.Name, MaxName)
	CheckText(&p, "unit", it.Unit, true, 20)
	CheckText(&p, "strength", it.Strength, false, 60)
	CheckText(&p, "form", it.Form, false, 60)
	p.When(!it.Content.None() && !it.Content.Right(), "content", "enter an amount and its unit, as in {1}", "10 mg")
	p.When(it.Controlled && it.TrackedBy == BySerial, "controlled", "a controlled item is tracked by batch")
	p.When(!slices.Contains(categories, it.Category), "category", "choose from the list")
	p.When(it.TrackedBy != ByLot && it.TrackedBy != BySerial, "tracked_by", "choose one of {1}", "lot, serial")
	checkLife(&p, "life", it.Life)
	p.When(it.LeadTimeDays < 0, "lead_time_days", "enter 0 or more")
	p.When(it.Reserve < 0 || it.Reserve > MaxQty, "reserve", "enter {1} to {2}", 0, MaxQty)
	checkPoints(&p, "inspection_points", it.InspectionPoints)
	checkPoints(&p, "inspection_notes", it.InspectionNotes)
	for _, pt := range it.InspectionNotes {
		p.When(slices.Contains(it.InspectionPoints, pt), "inspection_notes",
			"a point is either pass/fail or a note")
	}
	p.When(it.Life.TrainingCycles > 0 && it.TrackedBy != BySerial, "life.training_cycles", "only for devices")
	return p.Err()
}

func checkPoints(p *Problems, path string, points []string) {
	p.When(len(points) > 30, path, "enter at most {1}", 30)
	seen := map[string]bool{}
	for _, pt := range points {
		CheckText(p, path, pt, true, 200)
		p.When(seen[pt], path, "enter each point once")
		seen[pt] = true
	}
}

func checkLife(p *Problems, path string, l Life) {
	for name, n := range map[string]int{"made_months": l.MadeMonths, "stowed_months": l.StowedMonths} {
		p.When(n < 0 || n > 600, path+"."+name, "enter {1} to {2}", 0, 600)
	}
	for name, n := range map[string]int{"exposed_days": l.ExposedDays, "opened_days": l.OpenedDays,
		"inspect_days": l.InspectDays} {
		p.When(n < 0 || n > 36500, path+"."+name, "enter {1} to {2}", 0, 36500)
	}
	p.When(l.TrainingCycles < 0, path+".training_cycles", "enter 0 or more")
}
