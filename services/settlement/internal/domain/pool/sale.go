package pool

import (
	"fmt"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// SalePart is what of a sale of the warehouse belongs to honey of one floral source and crop year.
type SalePart struct {
	Sale, Shipment uuid.UUID
	Place          int // among the parts of the sale
	Kind           EntryKind
	CropYear       int
	Variety        string
	Mass           quantity.Mass
	Amount         quantity.Money
	Document       string
	Date           domain.Date
}

// SaleKey is where a list of parts goes on; the zero key is its beginning.
type SaleKey struct {
	Date  domain.Date
	Sale  uuid.UUID
	Place int
}

// Key of the part in a list.
func (s *SalePart) Key() SaleKey { return SaleKey{s.Date, s.Sale, s.Place} }

// Entry is the part on a pool's account; who entered it and when is for the caller to say.
func (s *SalePart) Entry(pool uuid.UUID, unit quantity.Unit) *Record {
	return &Record{
		Pool: pool, Kind: s.Kind, Amount: s.Amount, Document: s.Document, Date: s.Date, Sale: s.Sale, SalePlace: s.Place,
		Description: fmt.Sprintf("%s of %s of %d, shipped", s.Mass.Say(unit), s.Variety, s.CropYear),
	}
}

// Of is the open pool whose honey it is, or nil: none takes it, or that pool is closed.
func (s *SalePart) Of(pools []*Account) *Account {
	for _, p := range pools {
		if p.MustBeOpen() == nil && p.Scope(pools).Takes(s.CropYear, s.Variety) {
			return p
		}
	}
	return nil
}
