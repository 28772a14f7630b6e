package paper

import (
	"context"
	"fmt"

	"github.com/boombuler/barcode/code128"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

// mostOnLabel is how many lots of a pallet find room above its bars; the rest is said to be more.
const mostOnLabel = 6

func (p *press) makePalletLabel(ctx context.Context, id string) ([]byte, string, error) {
	pallet, err := p.packing.GetPallet(ctx, &inventoryv1.GetPalletRequest{Name: "pallets/" + id})
	if err != nil {
		return nil, "", err //nolint:wrapcheck // a refusal of the service
	}
	content, err := p.palletLabel(pallet)
	return content, fmt.Sprintf("pallet-%d.pdf", pallet.GetNumber()), err
}

// palletLabel draws the label of a pallet on 4 × 6 inch stock, with its serial shipping container code where it has one, and with
// what is on it as bars where that is jars of one lot.
func (p *press) palletLabel(m *inventoryv1.Pallet) ([]byte, error) {
	bars, below := string(code128.FNC1)+"00"+m.GetSscc(), "(00) "+m.GetSscc()
	if m.GetSscc() == "" {
		bars = fmt.Sprintf("%s-PALLET-%d", p.Cooperative.Site, m.GetNumber())
		below = bars
	}
	s := newSheet(drumStock, fmt.Sprintf("Pallet %d", m.GetNumber()), m.GetBuildTime().AsTime())
	s.AddPage()
	if symbols := contents(m); symbols != nil {
		if err := p.contentLabel(s, m, symbols); err != nil {
			return nil, err
		}
		return s.labelled(bars, below, false)
	}
	s.line("", 10, p.Cooperative.Name+" · "+p.Cooperative.Site)
	s.rule()
	s.line("", 11, "Pallet")
	s.line("B", 40, fmt.Sprint(m.GetNumber()))
	s.Ln(2)
	for n, l := range m.GetLines() {
		if n == mostOnLabel {
			s.line("", 11, fmt.Sprintf("and %d more lots", len(m.GetLines())-n))
			break
		}
		s.line("B", 14, lotLine(l))
	}
	s.Ln(1)
	s.paragraph("", 8, infantCaution)
	return s.labelled(bars, below, m.GetSscc() == "")
}
