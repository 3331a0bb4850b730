package api

import (
	"context"

	"stowkeeper/inventory"
)

// ProductFields are what people give of a product.
type ProductFields struct {
	Item           string `json:"item" doc:"Item code"`
	GTIN           string `json:"gtin,omitempty" doc:"GTIN in 8, 12, 13 or 14 digits"`
	HIBC           string `json:"hibc,omitempty" doc:"HIBC primary code without + and check character"`
	MakerReference string `json:"maker_reference,omitempty" doc:"The maker's catalogue number"`
	Supplier       string `json:"supplier,omitempty"`
	PackSize       int    `json:"pack_size" minimum:"1" maximum:"100000" doc:"Units in one pack"`
	MinimumPacks   int    `json:"minimum_packs,omitempty" minimum:"0" maximum:"10000" doc:"Fewest packs that are sent"`
}

// ProductChange is what people change of a product; fields left out stay.
type ProductChange struct {
	GTIN           *string `json:"gtin,omitempty"`
	HIBC           *string `json:"hibc,omitempty"`
	MakerReference *string `json:"maker_reference,omitempty"`
	Supplier       *string `json:"supplier,omitempty"`
	PackSize       *int    `json:"pack_size,omitempty" minimum:"1" maximum:"100000"`
	MinimumPacks   *int    `json:"minimum_packs,omitempty" minimum:"0" maximum:"10000"`
}

type productQuery struct {
	Paging
	Item string `query:"item" doc:"Item code"`
	GTIN string `query:"gtin"`
	HIBC string `query:"hibc"`
}

func (s *server) listProducts(ctx context.Context, in *productQuery) (*listed[inventory.Product], error) {
	f := inventory.ProductFilter{Item: inventory.NormalCode(in.Item), GTIN: in.GTIN, HIBC: in.HIBC}
	return listByID(ctx, in.Paging, f, s.svc.Lists.Products, func(p inventory.Product) int64 { return p.ID })
}

func (s *server) createProduct(ctx context.Context, in *Posted[ProductFields]) (inventory.Product, error) {
	b := in.Body
	return s.svc.Lists.CreateProduct(ctx, by(ctx), inventory.Product{Item: inventory.NormalCode(b.Item), GTIN: b.GTIN,
		HIBC: b.HIBC, MakerReference: b.MakerReference, Supplier: b.Supplier, PackSize: b.PackSize,
		MinimumPacks: b.MinimumPacks})
}

func (s *server) addPrice(ctx context.Context, in *toID[inventory.Price]) (inventory.Product, error) {
	return s.svc.Lists.AddPrice(ctx, by(ctx), in.ID, in.Body)
}

func (s *server) getProduct(ctx context.Context, in *ByID) (*one[inventory.Product], error) {
	p, err := s.svc.Lists.Product(ctx, by(ctx), in.ID)
	return oneOf(p, p.Version, err)
}

type productChange struct {
	ByID
	Changing
	Body ProductChange
}

func (s *server) changeProduct(ctx context.Context, in *productChange) (*one[inventory.Product], error) {
	p, err := s.svc.Lists.Product(ctx, by(ctx).WithoutScope(), in.ID)
	if err != nil {
		return nil, err
	}
	version, err := in.version(p.Version)
	if err != nil {
		return nil, err
	}
	if p, err = merge(p, in.Body); err != nil {
		return nil, err
	}
	p.Version = version
	p, err = s.svc.Lists.UpdateProduct(ctx, by(ctx), p)
	return oneOf(p, p.Version, err)
}
