package sale

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// Sale is what a shipment brought, or what selling it cost.
type Sale struct {
	ID        uuid.UUID
	Number    int64
	Shipment  uuid.UUID
	Customer  string // whom the shipment left for, as people know them
	Kind      string
	Amount    quantity.Money
	Document  string
	EntryDate string
	Parts     []Part
	Recorder  string
	Time      time.Time
}

// Name is the resource name, "sales/{uuid}".
func (s Sale) Name() string { return "sales/" + s.ID.String() }

// Part is what of it belongs to honey of one floral source and crop year.
type Part struct {
	Variety  string
	CropYear int32
	Mass     quantity.Mass
	Amount   quantity.Money
}

// Share parts the amount by the masses of what was in the shipment: parts of one source and year are one, in the order of crop year and
// source, and the amounts add up to the whole. It fails where nothing was in it.
func (s Sale) Share(content []Part) (Sale, error) {
	slices.SortFunc(content, func(a, b Part) int {
		return cmp.Or(cmp.Compare(a.CropYear, b.CropYear), cmp.Compare(a.Variety, b.Variety))
	})
	s.Parts = nil
	for _, c := range content {
		last := len(s.Parts) - 1
		if last >= 0 && s.Parts[last].CropYear == c.CropYear && s.Parts[last].Variety == c.Variety {
			s.Parts[last].Mass += c.Mass
			continue
		}
		s.Parts = append(s.Parts, Part{Variety: c.Variety, CropYear: c.CropYear, Mass: c.Mass})
	}
	s.Parts = slices.DeleteFunc(s.Parts, func(p Part) bool { return p.Mass == 0 })
	weights := make([]int64, len(s.Parts))
	for i, p := range s.Parts {
		weights[i] = int64(p.Mass)
	}
	amounts, err := quantity.Share(s.Amount, weights)
	if err != nil {
		return s, fmt.Errorf("share %s: %w", s.Name(), err)
	}
	for i := range s.Parts {
		s.Parts[i].Amount = amounts[i]
	}
	return s, nil
}
