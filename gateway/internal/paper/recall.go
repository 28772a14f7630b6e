package paper

import (
	"cmp"
	"context"
	"fmt"
	"strings"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"barrelhead.example/gateway/internal/wording"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

// recall is a trace with what people call its places.
type recall struct {
	*inventoryv1.TraceResponse
	places map[string]*inventoryv1.TracePlace
	// as counts the places of a kind that are known by the same tag or code: a drum comes back every year.
	as map[string]int
	// to is the customer of each shipment, and loads how many went to each.
	to    map[string]string
	loads map[string]int
	// brief are ids as people read them.
	brief map[string]string
}

// readRecall asks once: the answer says what people know its places by.
func (p *press) readRecall(ctx context.Context, name string) (recall, error) {
	found, err := p.inventory.Trace(ctx, &inventoryv1.TraceRequest{Name: name})
	if err != nil {
		return recall{}, err //nolint:wrapcheck // a refusal of the service
	}
	return newRecall(found), nil
}

func newRecall(found *inventoryv1.TraceResponse) recall {
	r := recall{found, map[string]*inventoryv1.TracePlace{}, map[string]int{}, map[string]string{}, map[string]int{}, wording.Brief(namedIn(found))}
	for _, place := range found.GetPlaces() {
		r.places[place.GetName()] = place
		r.as[knownBy(place)]++
	}
	for _, c := range found.GetCustomers() {
		r.to[c.GetShipment()] = c.GetCustomer()
		r.loads[c.GetCustomer()]++
	}
	return r
}

// knownBy is what a place is known by, and of what kind it is.
func knownBy(place *inventoryv1.TracePlace) string {
	kind, _, _ := strings.Cut(place.GetName(), "/")
	return kind + "/" + place.GetKnownAs()
}

// namedIn are all resources an answer names.
func namedIn(found *inventoryv1.TraceResponse) []string {
	names := []string{found.GetName()}
	for _, s := range found.GetSources() {
		names = append(names, s.GetStockItem(), s.GetTicket())
	}
	for _, t := range found.GetTransfers() {
		names = append(names, t.GetFrom(), t.GetTo())
	}
	for _, c := range found.GetCustomers() {
		names = append(names, c.GetShipment())
		for _, x := range c.GetReceived() {
			names = append(names, x.GetPlace())
		}
	}
	for _, e := range found.GetElsewhere() {
		names = append(names, e.GetName())
	}
	return names
}

// called is what people call a place, with its id where that alone could be another one.
func (r recall) called(name string) string {
	place := r.places[name]
	kind, id, _ := strings.Cut(name, "/")
	switch {
	case kind == "losses":
		return "lost: " + strings.ToLower(id)
	case kind == "charges" && place != nil:
		return "charge " + place.GetKnownAs()
	case kind == "packLots" && place != nil:
		return "lot " + place.GetKnownAs()
	case kind == "stock" && place != nil && r.as[knownBy(place)] > 1:
		return "drum " + place.GetKnownAs() + ", barrel " + r.brief[name]
	case kind == "stock" && place != nil:
		return "drum " + place.GetKnownAs()
	case r.loads[r.to[name]] == 1:
		return r.to[name]
	case r.to[name] != "":
		return r.to[name] + ", shipment " + r.brief[name]
	default:
		return strings.TrimSuffix(kind, "s") + " " + r.brief[name]
	}
}

// withDay is called, and the day a lot is best by.
func (r recall) withDay(name string) string {
	if best := r.places[name].GetBestByDate(); best != "" {
		return r.called(name) + ", best by " + day(best)
	}
	return r.called(name)
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

var recallHead = []string{
	"part", "number", "time", "from", "from_name", "to", "to_name", "mass", "unit", "member", "ticket", "customer", "recorded_by", "reason", "claims", "recall_contact", "address",
	"carrier", "jars", "containers", "best_by_date", "carrier_address", "carrier_telephone",
}

// back tells whether a customer sent some of it back.
func back(c *inventoryv1.TraceCustomer) bool {
	return c.GetReturned() != nil && c.GetReturned().GetValue() != "0.0"
}

// cells of a row by their heads; what is not given is empty.
type cells map[string]string

func (c cells) row() []string {
	row := make([]string, len(recallHead))
	for n, head := range recallHead {
		row[n] = c[head]
	}
	return row
}

// between is the row of something that went, or is, from one place to another.
func (r recall) between(part, from, to string) cells {
	c := cells{"part": part, "from": from, "from_name": guard(r.called(from)), "to": to, "to_name": guard(r.called(to)), "best_by_date": r.places[from].GetBestByDate()}
	if c["best_by_date"] == "" {
		c["best_by_date"] = r.places[to].GetBestByDate()
	}
	return c
}

func (c cells) weighs(m *typev1.Mass) cells {
	c["mass"], c["unit"] = m.GetValue(), m.GetUnit()
	return c
}

// recallRows is one row for each source, each transfer on the way, each shipment with what of it was in it and what came back of that, and
// each place in the house where it is now.
func recallRows(r recall) [][]string {
	rows := [][]string{recallHead}
	for _, s := range r.GetSources() {
		c := r.between("source", s.GetStockItem(), r.GetName()).weighs(s.GetMass())
		c["member"], c["ticket"], c["claims"] = guard(s.GetMember()), s.GetTicket(), guard(claimsOf(s))
		rows = append(rows, c.row())
	}
	for _, t := range r.GetTransfers() {
		c := r.between("transfer", t.GetFrom(), t.GetTo()).weighs(t.GetMass())
		c["number"], c["time"], c["recorded_by"], c["reason"] = fmt.Sprint(t.GetNumber()), utcOf(t.GetTime()), guard(t.GetActor()), guard(t.GetReason())
		rows = append(rows, c.row())
	}
	for _, to := range r.GetCustomers() {
		c := r.between("customer", r.GetName(), to.GetShipment()).weighs(to.GetMass())
		c["time"], c["customer"], c["carrier"] = utcOf(to.GetShipTime()), guard(to.GetCustomer()), guard(to.GetCarrier())
		c["carrier_address"], c["carrier_telephone"] = guard(to.GetCarrierAddress()), guard(to.GetCarrierTelephone())
		c["recall_contact"], c["address"] = guard(cmp.Or(to.GetRecallContact(), wording.NoContact)), guard(to.GetAddress())
		rows = append(rows, c.row())
		if back(to) {
			c := r.between("came back", to.GetShipment(), r.GetName()).weighs(to.GetReturned())
			c["customer"] = guard(to.GetCustomer())
			rows = append(rows, c.row())
		}
		for _, x := range to.GetReceived() {
			c := r.between("received", x.GetPlace(), to.GetShipment())
			c["customer"], c["containers"] = guard(to.GetCustomer()), guard(x.GetContainers())
			if x.GetJars() > 0 {
				c["jars"] = fmt.Sprint(x.GetJars())
			}
			rows = append(rows, c.row())
		}
	}
	for _, e := range r.GetElsewhere() {
		rows = append(rows, r.between("in the house", r.GetName(), e.GetName()).weighs(e.GetMass()).row())
	}
	return rows
}

// utcOf writes an instant for machines; none is empty.
func utcOf(t *timestamppb.Timestamp) string {
	if t == nil {
		return ""
	}
	return t.AsTime().UTC().Format(time.RFC3339)
}
