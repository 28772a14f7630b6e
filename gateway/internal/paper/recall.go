package paper

import (
	"context"
	"fmt"
	"strings"
	"time"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

// mostNames is how many places a recall pack looks up a name for; the rest keep their numbers.
const mostNames = 400

// recall is a trace with what people call its places.
type recall struct {
	*inventoryv1.TraceResponse
	names map[string]string
}

func (p *press) readRecall(ctx context.Context, name string) (recall, error) {
	found, err := p.inventory.Trace(ctx, &inventoryv1.TraceRequest{Name: name})
	if err != nil {
		return recall{}, err //nolint:wrapcheck // a refusal of the service
	}
	r := recall{found, map[string]string{}}
	for _, c := range found.GetCustomers() {
		r.names[c.GetShipment()] = c.GetCustomer()
	}
	p.name(ctx, r, found.GetName())
	for _, s := range found.GetSources() {
		p.name(ctx, r, s.GetStockItem())
	}
	for _, t := range found.GetTransfers() {
		p.name(ctx, r, t.GetFrom())
		p.name(ctx, r, t.GetTo())
	}
	return r, nil
}

// name looks up what people call a place. What the caller may not read keeps its number.
func (p *press) name(ctx context.Context, r recall, place string) {
	if _, known := r.names[place]; known || len(r.names) >= mostNames {
		return
	}
	kind, id, _ := strings.Cut(place, "/")
	text := ""
	switch kind {
	case "stock":
		item, _ := p.inventory.GetStockItem(ctx, &inventoryv1.GetStockItemRequest{Name: place})
		if item.GetDrumTag() != "" {
			text = "drum " + item.GetDrumTag()
		}
	case "packLots":
		lot, _ := p.inventory.GetPackLot(ctx, &inventoryv1.GetPackLotRequest{Name: place})
		if lot.GetCode() != "" {
			text = "lot " + lot.GetCode()
		}
	case "charges":
		charge, _ := p.inventory.GetCharge(ctx, &inventoryv1.GetChargeRequest{Name: place})
		if charge.GetTank() != "" {
			text = "tank " + last(charge.GetTank()) + ", charge " + short(id)
		}
	case "losses":
		text = "lost: " + strings.ToLower(id)
	}
	if text == "" {
		text = strings.TrimSuffix(kind, "s") + " " + short(id)
	}
	r.names[place] = text
}

func short(id string) string { return id[:min(8, len(id))] }

func (r recall) called(place string) string {
	if text := r.names[place]; text != "" {
		return text
	}
	kind, id, _ := strings.Cut(place, "/")
	return strings.TrimSuffix(kind, "s") + " " + short(id)
}

// file is the name of a recall pack without its extension.
func (r recall) file() string {
	return "recall-" + strings.Map(func(c rune) rune {
		if strings.ContainsRune(" ,/:", c) {
			return '-'
		}
		return c
	}, r.called(r.GetName()))
}

func (p *press) recallPDF(ctx context.Context, kind, id string) ([]byte, string, error) {
	r, err := p.readRecall(ctx, kind+"/"+id)
	if err != nil {
		return nil, "", err
	}
	content, err := p.drawRecall(r)
	return content, r.file() + ".pdf", err
}

func (p *press) recallCSV(ctx context.Context, kind, id string) ([]byte, string, error) {
	r, err := p.readRecall(ctx, kind+"/"+id)
	if err != nil {
		return nil, "", err
	}
	content, err := writeCSV(recallRows(r))
	return content, r.file() + ".csv", err
}

var recallHead = []string{"part", "number", "time", "from", "from_name", "to", "to_name", "mass", "unit", "member", "ticket", "customer", "recorded_by", "reason", "claims", "recall_contact", "address"}

// recallRows is one row for each source, each transfer on the way, and each place where it is now.
func recallRows(r recall) [][]string {
	rows := [][]string{recallHead}
	for _, s := range r.GetSources() {
		rows = append(rows, []string{
			"source", "", "", s.GetStockItem(), guard(r.called(s.GetStockItem())), r.GetName(), guard(r.called(r.GetName())), s.GetMass().GetValue(), s.GetMass().GetUnit(),
			guard(s.GetMember()), s.GetTicket(), "", "", "", guard(claimsOf(s)), "", "",
		})
	}
	for _, t := range r.GetTransfers() {
		rows = append(rows, []string{
			"transfer", fmt.Sprint(t.GetNumber()), t.GetTime().AsTime().UTC().Format(time.RFC3339), t.GetFrom(), guard(r.called(t.GetFrom())), t.GetTo(), guard(r.called(t.GetTo())),
			t.GetMass().GetValue(), t.GetMass().GetUnit(), "", "", "", guard(t.GetActor()), guard(t.GetReason()), "", "", "",
		})
	}
	for _, c := range r.GetCustomers() {
		rows = append(rows, []string{
			"customer", "", "", r.GetName(), guard(r.called(r.GetName())), c.GetShipment(), "", c.GetMass().GetValue(), c.GetMass().GetUnit(), "", "", guard(c.GetCustomer()), "", "", "",
			guard(c.GetRecallContact()), guard(c.GetAddress()),
		})
	}
	for _, e := range r.GetElsewhere() {
		rows = append(rows, []string{
			"in the house", "", "", r.GetName(), guard(r.called(r.GetName())), e.GetName(), guard(r.called(e.GetName())), e.GetMass().GetValue(), e.GetMass().GetUnit(), "", "", "", "", "", "", "", "",
		})
	}
	return rows
}
