package project

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/wire"
)

// Intake applies one event of intake's feed.
func (p Project) Intake(ctx context.Context, tx pgx.Tx, ev feed.Event) ([]feed.Fact, error) {
	switch e := ev.Payload.(type) {
	case *intakev1.SampleDrawn:
		barrel, err := id("barrels", e.GetBarrel())
		if err != nil {
			return nil, err
		}
		return nil, p.Store.PutSample(ctx, tx, e.GetSample(), barrel)
	case *intakev1.TicketClosed:
		return p.standing(ctx, tx, e.GetTicket())
	case *intakev1.TicketVoided:
		ticket, err := id("tickets", e.GetTicket().GetName())
		if err != nil {
			return nil, err
		}
		return nil, p.Store.Withdraw(ctx, tx, ticket)
	case *intakev1.TicketReissued:
		old, err := id("tickets", e.GetOldTicket().GetName())
		if err != nil {
			return nil, err
		}
		// What the new ticket carries is put back at once; a barrel it should leave out must not stay under the old one.
		if err := p.Store.Withdraw(ctx, tx, old); err != nil {
			return nil, err
		}
		return p.standing(ctx, tx, e.GetNewTicket())
	case *intakev1.ScaleReviewOpened:
		return p.doubted(ctx, tx, e.GetReview())
	case *intakev1.ScaleReviewResolved:
		return p.decided(ctx, tx, ev, e.GetReview())
	case *intakev1.HarvestDeclared:
		return p.declared(ctx, tx, ev, e)
	default:
		return nil, nil
	}
}

// standing takes in the barrels of a ticket that counts from now on, and holds them if its declaration is missing.
func (p Project) standing(ctx context.Context, tx pgx.Tx, t *intakev1.Ticket) ([]feed.Fact, error) {
	ticket, err := id("tickets", t.GetName())
	if err != nil {
		return nil, err
	}
	var facts []feed.Fact
	for _, b := range t.GetBarrels() {
		item, err := p.item(ticket, t, b)
		if err != nil {
			return nil, fmt.Errorf("barrel %s of ticket %s: %w", b.GetName(), t.GetNumber(), err)
		}
		if err := p.Store.PutBarrel(ctx, tx, item); err != nil {
			return nil, err
		}
		if err := p.Store.PutOwners(ctx, tx, item.Barrel, owners(t)); err != nil {
			return nil, err
		}
		if err := p.Store.PutClaims(ctx, tx, item.Barrel, claimed(ticket, t.GetClaims())); err != nil {
			return nil, err
		}
		if t.GetHarvestDeclared() || feed.Rebuilding(ctx) {
			continue
		}
		h := stock.Undeclared(ticket, item.Barrel, t.GetNumber(), t.GetCloseTime().AsTime())
		placed, err := p.held(ctx, tx, h)
		if err != nil {
			return nil, err
		}
		facts = append(facts, placed...)
	}
	return facts, nil
}

// doubted holds every barrel that was weighed on a scale in doubt and is still in its drum, until it was weighed again.
func (p Project) doubted(ctx context.Context, tx pgx.Tx, r *intakev1.ScaleReview) ([]feed.Fact, error) {
	if feed.Rebuilding(ctx) {
		return nil, nil
	}
	review, err := id("scaleReviews", r.GetName())
	if err != nil {
		return nil, err
	}
	var facts []feed.Fact
	for _, name := range r.GetReweighBarrels() {
		barrel, err := id("barrels", name)
		if err != nil {
			return nil, err
		}
		h := stock.Doubted(review, barrel, r.GetScale(), r.GetFailedCheck().GetCheckTime().AsTime())
		placed, err := p.held(ctx, tx, h)
		if err != nil {
			return nil, err
		}
		facts = append(facts, placed...)
	}
	return facts, nil
}

func (p Project) item(ticket uuid.UUID, t *intakev1.Ticket, b *intakev1.Barrel) (stock.Item, error) {
	barrel, err := id("barrels", b.GetName())
	if err != nil {
		return stock.Item{}, err
	}
	net, err := wire.MassFromProto(b.GetNet(), p.Unit)
	if err != nil {
		return stock.Item{}, fmt.Errorf("net weight: %w", err)
	}
	var weighed *time.Time
	if b.GetWeighTime() != nil {
		at := b.GetWeighTime().AsTime()
		weighed = &at
	}
	// The owner, year and date are the ticket's: after a reissue the barrel's own line may still tell the old story.
	return stock.Item{
		Barrel: barrel, Ticket: ticket, Member: t.GetMember(), DrumTag: b.GetDrumTag(), Net: net, Variety: b.GetVariety(),
		CropYear: t.GetCropYear(), ReceiveDate: t.GetDeliveryDate(), State: stock.OnHand, Weighed: weighed,
	}, nil
}

// owners are the members who share a delivery.
func owners(t *intakev1.Ticket) (members []string) {
	for _, o := range t.GetOwners() {
		members = append(members, o.GetMember())
	}
	return members
}

// claimed are the claims of a ticket by name. One that was written twice is one claim with the evidence of both.
func claimed(ticket uuid.UUID, declared []*intakev1.HoneyClaim) (out []stock.Claim) {
	at := map[string]int{}
	for _, d := range declared {
		name, evidence := stock.ClaimName(d.GetClaim()), strings.TrimSpace(d.GetCertificate())
		n, known := at[name]
		switch {
		case name == "":
		case !known:
			at[name] = len(out)
			out = append(out, stock.Claim{Name: name, Declared: &stock.Declared{Evidence: evidence, Ticket: ticket}})
		case evidence != "" && evidence != out[n].Declared.Evidence:
			out[n].Declared.Evidence = strings.TrimPrefix(out[n].Declared.Evidence+", "+evidence, ", ")
		}
	}
	return out
}
