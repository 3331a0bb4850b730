package inventory

import (
	"context"
	"slices"
	"strconv"
)

// CreateSite makes a site and its four places.
func (s *Service) CreateSite(ctx context.Context, by Actor, in Site) (Site, error) {
	return write(ctx, s, func(w Writer) (Site, error) {
		if err := by.must(ActKeepSites, ""); err != nil {
			return in, err
		}
		if err := in.Check(); err != nil {
			return in, err
		}
		if err := w.AddSite(in); err != nil {
			return in, err
		}
		for _, p := range in.SitePlaces() {
			if err := w.AddPlace(p); err != nil {
				return in, err
			}
		}
		return in, nil
	})
}

// Sites lists the sites that the actor belongs to.
func (s *Service) Sites(ctx context.Context, by Actor) ([]Site, error) {
	return read(ctx, s, func(r Reader) ([]Site, error) {
		if err := by.must(ActSee, ""); err != nil {
			return nil, err
		}
		all, err := r.Sites()
		return slices.DeleteFunc(all, func(x Site) bool { return !by.At(x.Code) }), err
	})
}

// Categories lists the service's categories.
func (s *Service) Categories(ctx context.Context, by Actor) ([]Category, error) {
	return read(ctx, s, func(r Reader) ([]Category, error) {
		if err := by.must(ActSee, ""); err != nil {
			return nil, err
		}
		return r.Categories()
	})
}

// AddCategory extends the list of categories.
func (s *Service) AddCategory(ctx context.Context, by Actor, c Category) error {
	return s.Store.Write(ctx, func(_ context.Context, w Writer) error {
		if err := by.must(ActKeepSites, ""); err != nil {
			return err
		}
		var p problems
		checkText(&p, "name", string(c), true, 40)
		if err := p.err(); err != nil {
			return err
		}
		return w.AddCategory(c)
	})
}

// CreateItem makes an item.
func (s *Service) CreateItem(ctx context.Context, by Actor, in Item) (Item, error) {
	return write(ctx, s, func(w Writer) (Item, error) {
		if err := by.must(ActKeepLists, ""); err != nil {
			return in, err
		}
		in.Version = 1
		if err := checkItem(w, in); err != nil {
			return in, err
		}
		return in, w.AddItem(in)
	})
}

// UpdateItem replaces an item. in.Version is the version that it replaces.
// What units of it are told apart by cannot change once there are lots.
func (s *Service) UpdateItem(ctx context.Context, by Actor, in Item) (Item, error) {
	return write(ctx, s, func(w Writer) (Item, error) {
		if err := by.must(ActKeepLists, ""); err != nil {
			return in, err
		}
		old, err := w.Item(in.Code)
		if err != nil {
			return in, err
		}
		if err := checkItem(w, in); err != nil {
			return in, err
		}
		if old.TrackedBy != in.TrackedBy {
			lots, err := w.Lots(LotFilter{Item: in.Code}, Page{Limit: 1})
			if err != nil {
				return in, err
			}
			if len(lots) > 0 {
				return in, Errorf(Conflict, "stock of this item exists, so how it is tracked cannot change; make a new item instead")
			}
		}
		return w.UpdateItem(in)
	})
}

func checkItem(r Reader, in Item) error {
	cats, err := r.Categories()
	if err != nil {
		return err
	}
	if err := in.Check(cats); err != nil {
		return err
	}
	if in.PreferredProduct != 0 {
		pr, err := r.Product(in.PreferredProduct)
		if err == nil && pr.Item != in.Code {
			return Invalidf("preferred_product", "name a product of this item")
		}
		return known(err, "preferred_product", "product")
	}
	return nil
}

// Item returns one item.
func (s *Service) Item(ctx context.Context, by Actor, code string) (Item, error) {
	return read(ctx, s, func(r Reader) (Item, error) {
		if err := by.must(ActSee, ""); err != nil {
			return Item{}, err
		}
		return r.Item(NormalCode(code))
	})
}

// Items lists items.
func (s *Service) Items(ctx context.Context, by Actor, f ItemFilter, p Page) ([]Item, error) {
	return read(ctx, s, func(r Reader) ([]Item, error) {
		if err := by.must(ActSee, ""); err != nil {
			return nil, err
		}
		return r.Items(f, p)
	})
}

// CreateProduct makes a product of an item.
func (s *Service) CreateProduct(ctx context.Context, by Actor, in Product) (Product, error) {
	return write(ctx, s, func(w Writer) (Product, error) {
		if err := by.must(ActKeepLists, ""); err != nil {
			return in, err
		}
		in.Version = 1
		if err := in.Check(); err != nil {
			return in, err
		}
		if _, err := w.Item(in.Item); err != nil {
			return in, known(err, "item", "item")
		}
		return w.AddProduct(in)
	})
}

// UpdateProduct replaces a product. in.Version is the version it replaces.
func (s *Service) UpdateProduct(ctx context.Context, by Actor, in Product) (Product, error) {
	return write(ctx, s, func(w Writer) (Product, error) {
		if err := by.must(ActKeepLists, ""); err != nil {
			return in, err
		}
		old, err := w.Product(in.ID)
		if err != nil {
			return in, err
		}
		if err := in.Check(); err != nil {
			return in, err
		}
		if old.Item != in.Item {
			return in, Invalidf("item", "a product stays with its item; make a new product instead")
		}
		return w.UpdateProduct(in)
	})
}

// Product returns one product.
func (s *Service) Product(ctx context.Context, by Actor, id int64) (Product, error) {
	return read(ctx, s, func(r Reader) (Product, error) {
		if err := by.must(ActSee, ""); err != nil {
			return Product{}, err
		}
		return r.Product(id)
	})
}

// Products lists products.
func (s *Service) Products(ctx context.Context, by Actor, f ProductFilter, p Page) ([]Product, error) {
	return read(ctx, s, func(r Reader) ([]Product, error) {
		if err := by.must(ActSee, ""); err != nil {
			return nil, err
		}
		return r.Products(f, p)
	})
}

// CreatePlace makes a place that is not a bag.
func (s *Service) CreatePlace(ctx context.Context, by Actor, in Place) (Place, error) {
	return write(ctx, s, func(w Writer) (Place, error) {
		if err := by.must(ActKeepLists, in.Site); err != nil {
			return in, err
		}
		in.Version = 1
		if err := in.Check(); err != nil {
			return in, err
		}
		if _, err := w.Site(in.Site); err != nil {
			return in, known(err, "site", "site")
		}
		return in, w.AddPlace(in)
	})
}

// Places lists the places of the actor's sites.
func (s *Service) Places(ctx context.Context, by Actor, f PlaceFilter, p Page) ([]Place, error) {
	return read(ctx, s, func(r Reader) ([]Place, error) {
		if err := by.must(ActSee, ""); err != nil {
			return nil, err
		}
		sites, err := by.narrow(f.Sites)
		if err != nil {
			return nil, err
		}
		f.Sites = sites
		return r.Places(f, p)
	})
}

// narrow keeps a filter on sites within the actor's own.
func (a Actor) narrow(sites []string) ([]string, error) {
	if len(sites) == 0 {
		return a.sitesSeen(), nil
	}
	for _, site := range sites {
		if !a.At(site) {
			return nil, Errorf(Forbidden, "this belongs to a station that is not yours")
		}
	}
	return sites, nil
}

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
	if err := in.Check(); err != nil {
		return err
	}
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
	if err := p.err(); err != nil {
		return err
	}
	return w.AddKitList(in)
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
