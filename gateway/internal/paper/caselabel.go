package paper

import (
	"context"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

// caseStock is 4 × 3 inches.
var caseStock = size{101.6, 76.2, 5}

// caseBarsTop is where the bars of a case label stand.
const caseBarsTop = 35.5

func (p *press) makeCaseLabel(ctx context.Context, id string) ([]byte, string, error) {
	lot, err := p.inventory.GetPackLot(ctx, &inventoryv1.GetPackLotRequest{Name: "packLots/" + id})
	if err != nil {
		return nil, "", err //nolint:wrapcheck // a refusal of the service
	}
	content, err := p.caseLabel(lot)
	return content, "case-" + lot.GetCode() + ".pdf", err
}

// caseLabel draws the label of a case of jars of one lot. Its bars are the lot code in plain Code 128, which the trace, the pallets and
// the shipments take: a GTIN of the jars would say to a scanner that the case is one jar.
func (p *press) caseLabel(lot *inventoryv1.PackLot) ([]byte, error) {
	s := newSheet(caseStock, "Lot "+lot.GetCode(), lot.GetStartTime().AsTime())
	s.AddPage()
	s.line("", 8, p.Cooperative.Name+" · "+p.Cooperative.Site)
	s.line("B", 16, last(lot.GetLabel()))
	best := "as printed on the jars"
	if lot.GetBestByDate() != "" {
		best = day(lot.GetBestByDate())
	}
	s.pairOf("Best by", best, "Line", lot.GetLine())
	s.paragraph("", 8, infantCaution)
	if err := s.barsAt(lot.GetCode(), lot.GetCode(), caseBarsTop); err != nil {
		return nil, err
	}
	return s.bytes()
}
