package season

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

// deliver takes one load from the dock to the bay.
func (c *Crew) deliver(ctx context.Context, d Delivery) error {
	barrels, err := c.dock(ctx, d)
	if err != nil {
		return err
	}
	for i, weighed := range barrels {
		if d.Index < inOrder && d.Barrels[i].Variety == screened {
			c.screen = append(c.screen, weighed.GetSample())
		}
		if err := c.bench(ctx, d, d.Barrels[i], weighed.GetSample()); err != nil {
			return fmt.Errorf("sample of barrel %s: %w", weighed.GetDrumTag(), err)
		}
		if err := c.store(ctx, d, i, weighed); err != nil {
			return fmt.Errorf("storing barrel %s: %w", weighed.GetDrumTag(), err)
		}
		if done := int(c.done.Add(1)); c.Progress != nil {
			c.Progress(done, c.total)
		}
	}
	return nil
}

// dock weighs and samples every barrel and closes the ticket, under the wrong member first where the plan says so.
func (c *Crew) dock(ctx context.Context, d Delivery) ([]*intakev1.Barrel, error) {
	dock := c.sessions["dock"]
	ticket := "tickets/" + RequestID("ticket name", c.Season.CropYear, d.Index)
	member := d.Member
	if d.WrongMember != "" {
		member = d.WrongMember
	}
	if err := dock.Post(ctx, "/v1/tickets", &intakev1.OpenTicketRequest{
		RequestId: c.id(d, "open"), TicketId: strings.TrimPrefix(ticket, "tickets/"), Member: "members/" + member,
		CropYear: c.Season.CropYear, Hauler: d.Hauler, HarvestDeclared: d.Declared, Owners: shares(d.Owners),
	}, &intakev1.Ticket{}); err != nil {
		return nil, err
	}
	var barrels []*intakev1.Barrel
	for i, b := range d.Barrels {
		weighed, err := c.weigh(ctx, d, ticket, i, b)
		if err != nil {
			return nil, fmt.Errorf("weighing %s: %w", b.Tag, err)
		}
		barrels = append(barrels, weighed)
	}
	if err := c.closeTicket(ctx, d, ticket); err != nil {
		return nil, err
	}
	if d.WrongMember == "" {
		return barrels, nil
	}
	return barrels, c.reissue(ctx, d, ticket)
}

func shares(owners []Share) []*intakev1.OwnerShare {
	var out []*intakev1.OwnerShare
	for _, o := range owners {
		out = append(out, &intakev1.OwnerShare{Member: "members/" + o.Member, SharePercent: o.Percent})
	}
	return out
}

// weigh puts a barrel on the ticket and draws its sample. A tag that is already in the house gets a new one.
func (c *Crew) weigh(ctx context.Context, d Delivery, ticket string, i int, b Barrel) (*intakev1.Barrel, error) {
	req := &intakev1.WeighBarrelRequest{
		RequestId: c.id(d, "weigh", i), Ticket: ticket, BarrelId: strings.TrimPrefix(c.barrel(d, i), "barrels/"),
		DrumTag: b.Tag, Variety: b.Variety, Gross: pounds(b.GrossTenths), Tare: pounds(b.TareTenths),
		TareKind: intakev1.TareKind_TARE_KIND_STENCILLED, Scale: "scales/1",
		RawIndication: fmt.Sprintf("ST,GS,%8s lb", pounds(b.GrossTenths).GetValue()), Stable: true, Reason: b.Reason,
	}
	var weighed intakev1.Barrel
	err := c.sessions["dock"].Post(ctx, "/v1/"+ticket+"/barrels", req, &weighed)
	// A season that is run again finds the ticket closed where it once found the drum in use: a refusal is not kept.
	if status, ok := errors.AsType[*StatusError](err); ok && (status.Reason == "DRUM_IN_USE" || status.Reason == "STATE_FORBIDS") {
		req.RequestId, req.DrumTag = c.id(d, "weigh under a new tag", i), "FC-9"+b.Tag[len(b.Tag)-4:]
		err = c.sessions["dock"].Post(ctx, "/v1/"+ticket+"/barrels", req, &weighed)
	}
	if err != nil {
		return nil, err
	}
	err = c.sessions["dock"].Post(ctx, "/v1/"+weighed.GetName()+":drawSample", &intakev1.DrawSampleRequest{
		RequestId: c.id(d, "sample", i), Barrel: weighed.GetName(),
	}, &weighed)
	return &weighed, err
}

func (c *Crew) closeTicket(ctx context.Context, d Delivery, ticket string) error {
	req := &intakev1.CloseTicketRequest{RequestId: c.id(d, "close"), Name: ticket, BarrelCount: int32(len(d.Barrels))} //nolint:gosec // a load has tens of barrels
	err := c.sessions["dock"].Post(ctx, "/v1/"+ticket+":close", req, &intakev1.Ticket{})
	if status, ok := errors.AsType[*StatusError](err); ok && status.Reason == "SCALE_CHECK_MISSING" {
		if err := c.checkScaleToday(ctx); err != nil {
			return err
		}
		return c.sessions["dock"].Post(ctx, "/v1/"+ticket+":close", req, &intakev1.Ticket{})
	}
	return err
}

func (c *Crew) reissue(ctx context.Context, d Delivery, ticket string) error {
	if err := c.sessions["dock"].Post(ctx, "/v1/"+ticket+":requestVoid", &intakev1.RequestTicketVoidRequest{
		RequestId: c.id(d, "void"), Name: ticket, Reason: "recorded under the neighbour by mistake", ReissueMember: "members/" + d.Member,
	}, &intakev1.Ticket{}); err != nil {
		return err
	}
	return c.sessions["office"].Post(ctx, "/v1/"+ticket+":approveVoid", &intakev1.ApproveTicketVoidRequest{
		RequestId: c.id(d, "approve void"), Name: ticket,
	}, &intakev1.Ticket{})
}

// bench measures a sample and has it released by the lead; a planned re-test supersedes the first certificate.
func (c *Crew) bench(ctx context.Context, d Delivery, b Barrel, sample string) error {
	if err := c.await(ctx, "lab", "/v1/"+sample); err != nil {
		return err
	}
	moisture := &gradingv1.RecordReadingRequest{
		Kind: gradingv1.ReadingKind_READING_KIND_MOISTURE_PERCENT, RawValue: b.Moisture, Instrument: "MP-1",
	}
	if b.Refractive != "" {
		moisture = &gradingv1.RecordReadingRequest{
			Kind:     gradingv1.ReadingKind_READING_KIND_REFRACTIVE_INDEX,
			RawValue: b.Refractive, TemperatureC: b.Celsius, Instrument: "RF-2",
		}
	}
	readings := []*gradingv1.RecordReadingRequest{
		moisture,
		{Kind: gradingv1.ReadingKind_READING_KIND_PFUND_MM, RawValue: b.Pfund, Instrument: "CP-1"},
		{Kind: gradingv1.ReadingKind_READING_KIND_FLAVOR, RawValue: strconv.Itoa(b.Flavor)},
		{Kind: gradingv1.ReadingKind_READING_KIND_DEFECTS, RawValue: strconv.Itoa(b.Defects)},
	}
	for _, r := range readings {
		if err := c.read(ctx, d, sample, r); err != nil {
			return err
		}
	}
	certificate, err := c.certify(ctx, d, sample, "")
	if err != nil {
		return err
	}
	if b.SecondLook != "" {
		return c.appeal(ctx, d, b, certificate)
	}
	if b.Retest == "" {
		return nil
	}
	const reason = "member asked for a re-test"
	err = c.read(ctx, d, sample, &gradingv1.RecordReadingRequest{
		Kind:     gradingv1.ReadingKind_READING_KIND_REFRACTIVE_INDEX,
		RawValue: b.Retest, TemperatureC: "20.0", Instrument: "RF-1", Reason: reason,
	})
	if err != nil {
		return err
	}
	_, err = c.certify(ctx, d, sample, reason)
	return err
}

func (c *Crew) read(ctx context.Context, d Delivery, sample string, r *gradingv1.RecordReadingRequest) error {
	r.RequestId, r.Sample = c.id(d, "read", sample, r.GetKind(), r.GetReason()), sample
	return c.sessions["lab"].Post(ctx, "/v1/"+sample+"/readings", r, &gradingv1.Reading{})
}

func (c *Crew) certify(ctx context.Context, d Delivery, sample, reason string) (string, error) {
	var certificate gradingv1.Certificate
	err := c.sessions["lead"].Post(ctx, "/v1/"+sample+":certify", &gradingv1.IssueCertificateRequest{
		RequestId: c.id(d, "certify", sample, reason), Sample: sample, Style: gradingv1.Style_STYLE_STRAINED, Reason: reason,
	}, &certificate)
	return certificate.GetName(), err
}

// store moves a barrel to its bay; what must be held is held there, and released by another person.
func (c *Crew) store(ctx context.Context, d Delivery, i int, weighed *intakev1.Barrel) error {
	item := "stock/" + strings.TrimPrefix(weighed.GetName(), "barrels/")
	if err := c.await(ctx, "warehouse", "/v1/"+item); err != nil {
		return err
	}
	if !d.Declared {
		return nil // held for the missing declaration until the office has it
	}
	if err := c.sessions["warehouse"].Post(ctx, "/v1/"+item+":move", &inventoryv1.MoveBarrelRequest{
		RequestId: c.id(d, "move", i), Name: item, Location: fmt.Sprintf("FC-B%d-R%d-L%d", 1+d.Index%6, 1+i/8, 1+i%3),
	}, &inventoryv1.StockItem{}); err != nil {
		return err
	}
	reason := d.Barrels[i].HeldFor
	if reason == "" {
		return nil
	}
	var hold inventoryv1.Hold
	if err := c.sessions["warehouse"].Post(ctx, "/v1/"+item+"/holds", &inventoryv1.PlaceHoldRequest{
		RequestId: c.id(d, "hold", i), StockItem: item, Code: inventoryv1.HoldCode_HOLD_CODE_RESIDUE, Reason: reason,
	}, &hold); err != nil {
		return err
	}
	return c.sessions["lead"].Post(ctx, "/v1/"+hold.GetName()+":release", &inventoryv1.ReleaseHoldRequest{
		RequestId: c.id(d, "release", i), Name: hold.GetName(), Reason: "screen came back clean",
	}, &inventoryv1.Hold{})
}

// await waits until a neighbour has heard of a resource through its feed.
func (c *Crew) await(ctx context.Context, login, path string) error {
	session := c.sessions[login]
	deadline := time.Now().Add(session.client.Patience)
	for {
		_, err := session.send(ctx, http.MethodGet, path, nil)
		status, refused := errors.AsType[*StatusError](err)
		if !refused || status.HTTPStatus != http.StatusNotFound || time.Now().After(deadline) {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(20 * time.Millisecond):
		}
	}
}

// barrel names one of a delivery.
func (c *Crew) barrel(d Delivery, i int) string {
	return "barrels/" + RequestID("barrel name", c.Season.CropYear, d.Index, i)
}

// id names one step of a delivery.
func (c *Crew) id(d Delivery, step ...any) string {
	return RequestID(append([]any{c.Season.CropYear, d.Index}, step...)...)
}
