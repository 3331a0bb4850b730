package inventory

// siteHere returns the site where a place is: that of a bag may be another one
// than the site that owns it.
func (p *poster) siteHere(pl Place) (Site, error) {
	if pl.Kind != KindBag {
		return p.site(pl.Site)
	}
	b, err := p.w.Bag(pl.Code)
	if err != nil {
		return Site{}, err
	}
	return p.site(b.AtSite)
}
