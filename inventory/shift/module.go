package shift

import (
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/history"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/scope"
)

// Swap takes a module out of a bag and puts another in its place.
type Swap struct {
	Out  string `json:"out,omitempty" doc:"Code of the module that comes out; none where one is missing"`
	In   string `json:"in" doc:"Code of the module that goes in"`
	Note string `json:"note,omitempty" maxLength:"2000"`
}

// SwapModule exchanges a used module whole for a ready one, in one action, and answers with the readiness of the
// bag. Refuses: Forbidden without check where the bag is; NotFound for the bag; Invalid by field; Conflict for a
// module that is not in the bag, does not fit or must not go out. Locks the bag and both modules.
func (s *Service) SwapModule(ctx context.Context, by inventory.Actor, code string, in Swap) (inventory.Readiness,
	error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Readiness, error) {
		outer, err := scope.BagFor(w, by, code, inventory.ActCheck)
		if err != nil {
			return inventory.Readiness{}, err
		}
		in.Out, in.In = inventory.NormalCode(in.Out), inventory.NormalCode(in.In)
		if err := in.check(); err != nil {
			return inventory.Readiness{}, err
		}
		if err := w.LockBags([]string{outer.Code, in.In, in.Out}); err != nil {
			return inventory.Readiness{}, err
		}
		if outer, err = w.Bag(outer.Code); err != nil { // again, now that others wait
			return inventory.Readiness{}, err
		}
		if err := s.swap(w, by, outer, in); err != nil {
			return inventory.Readiness{}, err
		}
		if outer, err = w.Bag(outer.Code); err != nil {
			return inventory.Readiness{}, err
		}
		v, err := lists.LoadBag(w, outer)
		return s.judged(v), err
	})
}

// judged is a bag as it is judged now.
func (s *Service) judged(v inventory.BagView) inventory.Readiness {
	return inventory.ReadinessOf(v, s.now(), 0, inventory.DefaultHorizonDays)
}

func (in Swap) check() error {
	var ps inventory.Problems
	inventory.CheckCode(&ps, "in", in.In)
	if in.Out != "" {
		inventory.CheckCode(&ps, "out", in.Out)
	}
	ps.When(in.Out == in.In, "in", "choose two modules")
	inventory.CheckText(&ps, "note", in.Note, false, inventory.MaxNote)
	return ps.Err()
}

func (s *Service) swap(w inventory.Writer, by inventory.Actor, outer inventory.Bag, in Swap) error {
	list, err := s.takeOut(w, by, outer, in)
	if err != nil {
		return err
	}
	old, err := w.Bag(in.In)
	if err != nil {
		return inventory.AsField(err, "in", "not found")
	}
	k, err := w.KitList(outer.KitList, outer.KitListVersion)
	if err != nil {
		return err
	}
	v, err := lists.LoadBag(w, old)
	if err != nil {
		return err
	}
	if err := inventory.MayGoIn(outer, v, s.judged(v), wanted(k, list)); err != nil {
		return err
	}
	module := old
	module.Inside, module.Vehicle = outer.Code, outer.Vehicle
	if _, err := lists.ChangeBag(w, by, s.now(), old, module, in.Note); err != nil {
		return err
	}
	return w.AddBagLog(inventory.BagLogEntry{Bag: outer.Code, RecordedAt: s.now(), By: by.Name, Kind: history.LoggedModule,
		Old: in.Out, New: in.In, Reason: in.Note})
}

// takeOut takes the module out that a swap names, if any, and returns its list.
func (s *Service) takeOut(w inventory.Writer, by inventory.Actor, outer inventory.Bag, in Swap) (string, error) {
	if in.Out == "" {
		return "", nil
	}
	old, err := w.Bag(in.Out)
	if err != nil {
		return "", inventory.AsField(err, "out", "not found")
	}
	if old.Inside != outer.Code {
		return "", inventory.Refuse(inventory.Conflict, "that module is not in this bag")
	}
	out := old
	out.Inside, out.Vehicle = "", ""
	_, err = lists.ChangeBag(w, by, s.now(), old, out, in.Note)
	return old.KitList, err
}

// SpareModule is a module that might go into a bag.
type SpareModule struct {
	inventory.BagSummary
	Why message.Message `json:"why,omitempty" doc:"Why it does not go in, where it does not"`
}

// SpareModules lists the modules at a bag's station that are in no bag and are of the list that is wanted: that of
// the module that comes out or, where none does, those that the bag's list asks for. Those that may go in come
// first, each part by code. Refuses: Forbidden without check where the bag is; NotFound for bag or module; Conflict
// for a module that is not in the bag.
func (s *Service) SpareModules(ctx context.Context, by inventory.Actor, code, out string) ([]SpareModule, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) ([]SpareModule, error) {
		outer, err := scope.BagFor(r, by, code, inventory.ActCheck)
		if err != nil {
			return nil, err
		}
		list := ""
		if out = inventory.NormalCode(out); out != "" {
			old, err := r.Bag(out)
			if err != nil {
				return nil, err
			}
			if old.Inside != outer.Code {
				return nil, inventory.Refuse(inventory.Conflict, "that module is not in this bag")
			}
			list = old.KitList
		}
		k, err := r.KitList(outer.KitList, outer.KitListVersion)
		if err != nil {
			return nil, err
		}
		fitting := wanted(k, list)
		views, err := lists.LoadBags(r, inventory.BagFilter{AtStations: []string{outer.AtStation}, Purpose: outer.Purpose},
			inventory.Page{})
		var fit, unfit []SpareModule
		for _, v := range views {
			if v.Bag.Inside != "" || v.Bag.Code == outer.Code || !slices.Contains(fitting, v.Bag.KitList) {
				continue
			}
			m := SpareModule{BagSummary: lists.SummaryOf(v, s.now(), lists.Outlook{Horizon: -1})}
			if err := inventory.MayGoIn(outer, v, s.judged(v), fitting); err != nil {
				m.Why = inventory.MessageOf(err)
				unfit = append(unfit, m)
			} else {
				fit = append(fit, m)
			}
		}
		return append(fit, unfit...), err
	})
}

// wanted lists the kit lists of which a module may go into a bag on a list: that
// of the module that came out or, where none did, those that the list asks for.
func wanted(k inventory.KitList, out string) []string {
	if out != "" {
		return []string{out}
	}
	var codes []string
	for _, m := range k.Modules {
		codes = append(codes, m.KitList)
	}
	return codes
}
