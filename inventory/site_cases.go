package inventory

import (
	"context"
	"slices"
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

// SiteNames returns the name of every station by its code: a bag that is lent
// is at a station that is not one's own, and is called by name all the same.
func (s *Service) SiteNames(ctx context.Context, by Actor) (map[string]string, error) {
	return read(ctx, s, func(r Reader) (map[string]string, error) {
		if err := by.must(ActSee, ""); err != nil {
			return nil, err
		}
		all, err := r.Sites()
		out := make(map[string]string, len(all))
		for _, x := range all {
			out[x.Code] = x.Name
		}
		return out, err
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
