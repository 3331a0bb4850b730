package lists

import (
	"context"
	"slices"
	"strconv"

	"stowkeeper/inventory"
)

// CreateKitList makes the first version of a kit list. Refuses: Forbidden without keep_lists; Invalid by field;
// Conflict where the code is taken.
func (s *Service) CreateKitList(ctx context.Context, by inventory.Actor, in inventory.KitList) (inventory.KitList,
	error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.KitList, error) {
		in.Version = 1
		return in, s.addKitList(w, by, in)
	})
}

// NextKitList makes the next version of a kit list. version is the one that the caller saw, 0 for any; bags keep
// theirs until somebody moves them. Refuses: NotFound; Stale; Forbidden without keep_lists; Invalid by field.
func (s *Service) NextKitList(ctx context.Context, by inventory.Actor, in inventory.KitList,
	version int) (inventory.KitList, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.KitList, error) {
		old, err := w.KitList(in.Code, 0)
		if err != nil {
			return in, err
		}
		if version != 0 && version != old.Version {
			return in, inventory.Refuse(inventory.Stale, "changed meanwhile: now version {1}", old.Version)
		}
		in.Version = old.Version + 1
		return in, s.addKitList(w, by, in)
	})
}

func (s *Service) addKitList(w inventory.Writer, by inventory.Actor, in inventory.KitList) error {
	if err := by.Must(inventory.ActKeepLists, ""); err != nil {
		return err
	}
	if err := CheckKitList(w, in); err != nil {
		return err
	}
	return w.AddKitList(in)
}

// CheckKitList refuses a list that does not make sense or names what is not there. Refuses: Invalid by field.
func CheckKitList(w inventory.Reader, in inventory.KitList) error {
	var p inventory.Problems
	for i, l := range in.Lines {
		path := "lines[" + strconv.Itoa(i) + "]"
		if err := knownItem(w, &p, path+".item", l.Item); err != nil {
			return err
		}
		for _, a := range l.Accepts {
			if err := knownItem(w, &p, path+".accepts", a); err != nil {
				return err
			}
		}
	}
	for i, m := range in.Modules {
		path := "modules[" + strconv.Itoa(i) + "].kit_list"
		k, err := w.KitList(m.KitList, 0)
		if err != nil && inventory.KindOf(err) != inventory.NotFound {
			return err
		}
		p.When(err != nil, path, "not found")
		p.When(len(k.Modules) > 0, path, "a module cannot hold modules")
	}
	cats, err := w.Categories()
	if err != nil {
		return err
	}
	for i, r := range in.Rules {
		path := "rules[" + strconv.Itoa(i) + "]"
		if err := knownItem(w, &p, path+".need_item", r.NeedItem); err != nil {
			return err
		}
		p.When(r.WhenCategory != "" && !slices.Contains(cats, r.WhenCategory), path+".when_category",
			"choose from the list")
		p.When(r.NeedCategory != "" && !slices.Contains(cats, r.NeedCategory), path+".need_category",
			"choose from the list")
	}
	return inventory.MergeErrors(in.Check(), p.Err())
}

// knownItem adds a wrong field where an item code, if any, is not known.
func knownItem(r inventory.Reader, p *inventory.Problems, path, code string) error {
	if code == "" {
		return nil
	}
	_, err := r.Item(code)
	if inventory.KindOf(err) == inventory.NotFound {
		p.Add(path, "not found")
		return nil
	}
	return err
}

// KitList returns a version of a kit list, the latest for version 0. Refuses: Forbidden without see; NotFound.
func (s *Service) KitList(ctx context.Context, by inventory.Actor, code string, version int) (inventory.KitList,
	error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, func(r inventory.Reader) (inventory.KitList, error) {
		return r.KitList(inventory.NormalCode(code), version)
	})
}

// KitLists lists the latest version of each kit list, by code. Refuses: Forbidden without see.
func (s *Service) KitLists(ctx context.Context, by inventory.Actor, p inventory.Page) ([]inventory.KitList, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, func(r inventory.Reader) ([]inventory.KitList, error) {
		return r.KitLists(p)
	})
}
