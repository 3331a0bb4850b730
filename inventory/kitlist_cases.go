package inventory

import (
	"context"
	"slices"
	"strconv"
)

// CreateKitList makes the first version of a kit list.
func (s *Service) CreateKitList(ctx context.Context, by Actor, in KitList) (KitList, error) {
	return write(ctx, s, func(w Writer) (KitList, error) {
		in.Version = 1
		return in, s.addKitList(w, by, in)
	})
}

// NextKitList makes the next version of a kit list. version is the one that
// the caller saw; bags keep theirs until somebody moves them.
func (s *Service) NextKitList(ctx context.Context, by Actor, in KitList, version int) (KitList, error) {
	return write(ctx, s, func(w Writer) (KitList, error) {
		old, err := w.KitList(in.Code, 0)
		if err != nil {
			return in, err
		}
		if version != 0 && version != old.Version {
			return in, Errorf(Stale, "the kit list has version %d by now; look at it and try again", old.Version)
		}
		in.Version = old.Version + 1
		return in, s.addKitList(w, by, in)
	})
}

func (s *Service) addKitList(w Writer, by Actor, in KitList) error {
	if err := by.must(ActKeepLists, ""); err != nil {
		return err
	}
	if err := checkKitList(w, in); err != nil {
		return err
	}
	return w.AddKitList(in)
}

// checkKitList refuses a list that does not make sense or names what is not
// there.
func checkKitList(w Reader, in KitList) error {
	var p problems
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
		if err != nil && KindOf(err) != NotFound {
			return err
		}
		p.when(err != nil, path, "no such kit list")
		p.when(len(k.Modules) > 0, path, "a module has no modules of its own")
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
		p.when(r.WhenCategory != "" && !slices.Contains(cats, r.WhenCategory), path+".when_category", "choose a category from the list")
		p.when(r.NeedCategory != "" && !slices.Contains(cats, r.NeedCategory), path+".need_category", "choose a category from the list")
	}
	return joined(in.Check(), p.err())
}

// knownItem adds a wrong field where an item code, if any, is not known.
func knownItem(r Reader, p *problems, path, code string) error {
	if code == "" {
		return nil
	}
	_, err := r.Item(code)
	if KindOf(err) == NotFound {
		p.add(path, "no such item")
		return nil
	}
	return err
}

// KitList returns a version of a kit list, the latest for version 0.
func (s *Service) KitList(ctx context.Context, by Actor, code string, version int) (KitList, error) {
	return read(ctx, s, func(r Reader) (KitList, error) {
		if err := by.must(ActSee, ""); err != nil {
			return KitList{}, err
		}
		return r.KitList(NormalCode(code), version)
	})
}

// KitLists lists the latest version of each kit list.
func (s *Service) KitLists(ctx context.Context, by Actor, p Page) ([]KitList, error) {
	return read(ctx, s, func(r Reader) ([]KitList, error) {
		if err := by.must(ActSee, ""); err != nil {
			return nil, err
		}
		return r.KitLists(p)
	})
}
