package inventory

import (
	"maps"
	"reflect"
	"slices"

	"stowkeeper/inventory/message"
)

// ListMove is what changes for a bag that comes to a newer version of its kit list.
type ListMove struct {
	From    int               `json:"from" doc:"Version of the kit list before"`
	To      int               `json:"to" doc:"Version after: the newest in force"`
	Edition string            `json:"edition,omitempty" doc:"Of the version after"`
	Changes []message.Message `json:"changes" doc:"What is different, in words"`
}

// InForce tells whether the version may be used on a day.
func (k KitList) InForce(day Day) bool {
	return k.ValidFrom <= day && (k.ValidTo == 0 || day <= k.ValidTo)
}

// NewestOn returns the newest of some versions of a list that is in force on a
// day and newer than the one at hand, or that one.
func NewestOn(day Day, have KitList, versions []KitList) KitList {
	for _, k := range versions {
		if k.Version > have.Version && k.InForce(day) {
			have = k
		}
	}
	return have
}

// OnNewest is a bag as a restock leaves it: on the newest version of its kit list that is in force on a day. A retired
// bag stays as it is.
func (v BagView) OnNewest(day Day) BagView {
	if !v.Bag.Retired() {
		v.List = NewestOn(day, v.List, v.Versions)
	}
	return v
}

// superseded warns of a bag that a newer version of its list waits for.
func (s *contents) superseded(day Day) []Finding {
	k := NewestOn(day, s.view.List, s.view.Versions)
	if k.Version == s.view.List.Version {
		return nil
	}
	return []Finding{{Kind: FindListSuperseded, Severity: SeverityWarn, Date: k.ValidFrom,
		Text: message.M("kit list version {1} is in force, this bag has {2}", k.Version, s.view.List.Version)}}
}

// ListMoveOf says what changes from one version of a list to another; nil where they are one.
func ListMoveOf(old, now KitList, items map[string]Item) *ListMove {
	if old.Version == now.Version {
		return nil
	}
	m := &ListMove{From: old.Version, To: now.Version, Edition: now.Edition, Changes: []message.Message{}}
	was, will := wantedByPouch(old), wantedByPouch(now)
	other := !reflect.DeepEqual(old.besidesLines(), now.besidesLines())
	for _, l := range append(append([]Line{}, now.Lines...), old.Lines...) {
		k := l.at()
		a, b := was[k], will[k]
		delete(was, k)
		delete(will, k)
		other = other || len(a.how) > 0 && len(b.how) > 0 && !reflect.DeepEqual(a.how, b.how)
		if a.par == b.par && a.minimum == b.minimum {
			continue
		}
		name := message.Plain(l.Item)
		if n := items[l.Item].Name; n != "" {
			name = message.Plain(n)
		}
		if l.Pouch != "" {
			name = message.M("{1}, {2}", name, l.Pouch)
		}
		m.Changes = append(m.Changes, changeText(name, a, b))
	}
	m.Changes = append(m.Changes, moduleChanges(old, now)...)
	if other {
		m.Changes = append(m.Changes, message.M("other checks or rules"))
	}
	return m
}

func changeText(of message.Message, was, will wantedIn) message.Message {
	return message.M("{1}: needs {2}, at least {3} (was {4}, at least {5})", of, will.par, will.minimum, was.par,
		was.minimum)
}

func moduleChanges(old, now KitList) (out []message.Message) {
	counts := map[string][2]wantedIn{}
	for i, k := range []KitList{old, now} {
		for _, x := range k.Modules {
			n := counts[x.KitList]
			n[i] = wantedIn{par: x.Count, minimum: x.Count}
			counts[x.KitList] = n
		}
	}
	for _, list := range slices.Sorted(maps.Keys(counts)) {
		if n := counts[list]; n[0].par != n[1].par {
			out = append(out, changeText(message.M("Module {1}", list), n[0], n[1]))
		}
	}
	return out
}

// wantedIn is what a list wants of an item in a pouch, and its lines without numbers.
type wantedIn struct {
	par, minimum int
	how          []Line
}

func (l Line) at() [2]string { return [2]string{l.Item, l.Pouch} }

func wantedByPouch(k KitList) map[[2]string]wantedIn {
	out := map[[2]string]wantedIn{}
	for _, l := range k.Lines {
		w := out[l.at()]
		par, minimum := l.Wanted()
		w.par, w.minimum = w.par+par, w.minimum+minimum
		l.Par, l.Minimum = 0, 0
		w.how = append(w.how, l)
		out[l.at()] = w
	}
	return out
}

// besidesLines is what a list asks for besides its lines.
func (k KitList) besidesLines() KitList {
	return KitList{Sealed: k.Sealed, SealWarns: k.SealWarns, SealCheckHours: k.SealCheckHours,
		FullCheckDays: k.FullCheckDays, MinRemainingDays: k.MinRemainingDays, Rules: k.Rules}
}
