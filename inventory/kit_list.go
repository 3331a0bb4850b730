package inventory

import "strconv"

// ListVersion names one version of a kit list.
type ListVersion struct {
	Code    string
	Version int
}

// Key names the version.
func (k KitList) Key() ListVersion { return ListVersion{Code: k.Code, Version: k.Version} }

// KitList is one version of the list of what a bag must hold.
type KitList struct {
	Code             string    `json:"code"`
	Version          int       `json:"version" doc:"1, 2, 3 …: each change makes the next; the ETag"`
	Name             string    `json:"name"`
	Edition          string    `json:"edition,omitempty" doc:"As its publisher or owner calls it"`
	Source           string    `json:"source,omitempty" doc:"Where the list was published; naming it claims no compliance"`
	ValidFrom        Day       `json:"valid_from,omitempty" format:"date" doc:"First day on which it may be used"`
	ValidTo          Day       `json:"valid_to,omitempty" format:"date" doc:"Last day on which it may be used"`
	Sealed           bool      `json:"sealed" doc:"Whether bags on this list carry a seal"`
	SealWarns        bool      `json:"seal_warns,omitempty" doc:"A broken or different seal is a warning and not a stop"`
	SealCheckHours   int       `json:"seal_check_hours,omitempty" minimum:"0" maximum:"8784" doc:"0 for none"`
	FullCheckDays    int       `json:"full_check_days,omitempty" minimum:"0" maximum:"3660" doc:"0 for none"`
	MinRemainingDays int       `json:"min_remaining_days,omitempty" minimum:"0" maximum:"3660" doc:"When picked"`
	Lines            []Line    `json:"lines"`
	Modules          []Module  `json:"modules,omitempty" doc:"Bags on other lists that must be inside it"`
	Rules            []KitRule `json:"rules,omitempty"`
}

// Line is one line of a kit list: an item in a pouch. Two lines may ask for the same item in two pouches.
type Line struct {
	Item             string   `json:"item" doc:"Item code"`
	Pouch            string   `json:"pouch,omitempty"`
	Par              int      `json:"par,omitempty" minimum:"0" maximum:"10000" doc:"Quantity wanted"`
	Minimum          int      `json:"minimum,omitempty" minimum:"0" maximum:"10000" doc:"With fewer the bag is not ready"`
	Critical         bool     `json:"critical,omitempty" doc:"Filled before other lines when stock is short"`
	PresenceOnly     bool     `json:"presence_only,omitempty" doc:"Present, no number"`
	CarriedElsewhere string   `json:"carried_elsewhere,omitempty" doc:"Where it is carried instead of in the bag"`
	Accepts          []string `json:"accepts,omitempty" doc:"Other item codes that count, in order of preference"`
}

// Module is a kind of module that a bag must hold: so many bags on another kit
// list, each with its own seal and label.
type Module struct {
	KitList string `json:"kit_list" doc:"Kit list code of the module"`
	Count   int    `json:"count" minimum:"1" maximum:"20"`
}

// Wanted returns the line's par and minimum as they count: a line that asks for presence wants one and stops without
// it, one carried elsewhere wants none.
func (l Line) Wanted() (par, minimum int) {
	switch {
	case l.CarriedElsewhere != "":
		return 0, 0
	case l.PresenceOnly:
		return 1, 1
	}
	return l.Par, l.Minimum
}

// KitRule is data attached to a kit list: the bag holds at least so many of an
// item or a category, always or only if it holds any of another category.
type KitRule struct {
	WhenCategory Category `json:"when_category,omitempty" doc:"Applies only if the bag holds any of this category"`
	NeedCategory Category `json:"need_category,omitempty" doc:"Counts units of this category …"`
	NeedItem     string   `json:"need_item,omitempty" doc:"… or of this item"`
	AtLeast      int      `json:"at_least" minimum:"1" maximum:"10000"`
	Severity     Severity `json:"severity" enum:"stop,warn"`
	Because      string   `json:"because,omitempty" doc:"The owner's reason (optional), shown as typed"`
}

// TourniquetRules is the default set of kit rules for limb tourniquets, without reasons: they say what is needed and
// teach nothing. Their sources stand beside their check, in TestTourniquetRules. Local protocol decides.
func TourniquetRules() []KitRule {
	rule := func(need Category, n int, s Severity) KitRule {
		return KitRule{WhenCategory: CategoryTourniquet, NeedCategory: need, AtLeast: n, Severity: s}
	}
	return []KitRule{
		rule(CategoryTourniquet, 2, SeverityStop),
		rule(CategoryMarker, 1, SeverityStop),
		rule(CategoryRecordCard, 1, SeverityWarn),
		rule(CategoryPressureDressing, 1, SeverityWarn),
		rule(CategoryPlainDressing, 1, SeverityWarn),
		rule(CategoryPainRelief, 1, SeverityWarn),
	}
}

// Limits of a kit list.
const (
	MaxLines = 500
	MaxRules = 100

	MaxModules = 20
)

// Check refuses a kit list whose fields do not make sense. Refuses: Invalid by field.
func (k KitList) Check() error {
	var p Problems
	CheckCode(&p, "code", k.Code)
	CheckText(&p, "name", k.Name, true, MaxName)
	CheckText(&p, "edition", k.Edition, false, MaxName)
	CheckText(&p, "source", k.Source, false, MaxNote)
	p.When(k.ValidFrom != 0 && k.ValidTo != 0 && k.ValidTo < k.ValidFrom, "valid_to", "enter a later day, or the first")
	p.When(k.SealCheckHours < 0 || k.SealCheckHours > 8784, "seal_check_hours", "enter {1} to {2}", 0, 8784)
	p.When(k.FullCheckDays < 0 || k.FullCheckDays > 3660, "full_check_days", "enter {1} to {2}", 0, 3660)
	p.When(k.MinRemainingDays < 0 || k.MinRemainingDays > 3660, "min_remaining_days", "enter {1} to {2}", 0, 3660)
	p.When(len(k.Lines)+len(k.Modules) == 0 || len(k.Lines) > MaxLines, "lines", "enter {1} to {2}", 1, MaxLines)
	p.When(len(k.Modules) > MaxModules, "modules", "enter at most {1}", MaxModules)
	p.When(len(k.Rules) > MaxRules, "rules", "enter at most {1}", MaxRules)
	in := map[[2]string]bool{}
	for i, l := range k.Lines {
		path := "lines[" + strconv.Itoa(i) + "]"
		l.check(&p, path)
		p.When(len(k.Lines) <= MaxLines && in[[2]string{l.Item, l.Pouch}], path+".item", "enter each item once in a pouch")
		in[[2]string{l.Item, l.Pouch}] = true
	}
	named := map[string]bool{k.Code: true}
	for i, m := range k.Modules {
		path := "modules[" + strconv.Itoa(i) + "]"
		CheckCode(&p, path+".kit_list", m.KitList)
		p.When(named[m.KitList], path+".kit_list", "enter each list once")
		p.When(m.Count < 1 || m.Count > 20, path+".count", "enter {1} to {2}", 1, 20)
		named[m.KitList] = true
	}
	for i, r := range k.Rules {
		r.check(&p, "rules["+strconv.Itoa(i)+"]")
	}
	return p.Err()
}

func (l Line) check(p *Problems, path string) {
	CheckCode(p, path+".item", l.Item)
	CheckText(p, path+".pouch", l.Pouch, false, MaxName)
	CheckText(p, path+".carried_elsewhere", l.CarriedElsewhere, false, MaxName)
	p.When(l.Par < 0 || l.Par > 10000, path+".par", "enter {1} to {2}", 0, 10000)
	p.When(l.Minimum < 0 || l.Minimum > l.Par && !l.PresenceOnly, path+".minimum", "minimum cannot exceed what is needed")
	p.When(l.Par == 0 && !l.PresenceOnly && l.CarriedElsewhere == "", path+".par", "enter the quantity needed")
	p.When(len(l.Accepts) > 20, path+".accepts", "enter at most {1}", 20)
	for _, a := range l.Accepts {
		CheckCode(p, path+".accepts", a)
		p.When(a == l.Item, path+".accepts", "leave out the line's own item")
	}
}

func (r KitRule) check(p *Problems, path string) {
	p.When((r.NeedCategory == "") == (r.NeedItem == ""), path+".need_category", "choose either category or item")
	p.When(r.AtLeast < 1, path+".at_least", "enter 1 or more")
	p.When(r.Severity != SeverityStop && r.Severity != SeverityWarn, path+".severity", "choose one of {1}", "stop, warn")
	CheckText(p, path+".because", r.Because, false, MaxNote)
}

// Items lists the codes of all items that the list names, each once.
func (k KitList) Items() []string {
	seen := map[string]bool{}
	var codes []string
	add := func(c string) {
		if c != "" && !seen[c] {
			seen[c] = true
			codes = append(codes, c)
		}
	}
	for _, l := range k.Lines {
		add(l.Item)
		for _, a := range l.Accepts {
			add(a)
		}
	}
	for _, r := range k.Rules {
		add(r.NeedItem)
	}
	return codes
}
