package app

import (
	"context"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain"
)

// DeliveryStore is where it is kept what was on the scale, and what containers are out.
type DeliveryStore interface {
	YearDeliveries(ctx context.Context, q pg.Querier, member string, cropYear int) ([]domain.Situation, error)
	Weights(ctx context.Context, q pg.Querier, barrels []uuid.UUID) ([]domain.Weights, error)
	BarrelLabels(ctx context.Context, q pg.Querier, barrels []uuid.UUID) ([]domain.BarrelLabel, error)
	ContainersOut(ctx context.Context, q pg.Querier, member string) ([]domain.Containers, error)
}

// fillDeliveries lists the year's barrels as they were weighed and graded.
func (a *App) fillDeliveries(ctx context.Context, tx pgx.Tx, out *settlementv1.Statement) error {
	found, err := a.Store.YearDeliveries(ctx, tx, out.GetMember(), int(out.GetCropYear()))
	if err != nil {
		return err
	}
	barrels := make([]uuid.UUID, len(found))
	for i, s := range found {
		barrels[i] = s.Barrel.Barrel
	}
	weights, err := a.Store.Weights(ctx, tx, barrels)
	if err != nil {
		return err
	}
	said := map[uuid.UUID]domain.Weights{}
	for _, w := range weights {
		said[w.Barrel] = w
	}
	for _, s := range found {
		out.Deliveries = append(out.Deliveries, a.deliveryToProto(s, said[s.Barrel.Barrel], out))
	}
	return nil
}

func (a *App) deliveryToProto(s domain.Situation, said domain.Weights, out *settlementv1.Statement) *settlementv1.StatementDelivery {
	b := s.Barrel
	row := &settlementv1.StatementDelivery{
		Barrel: "barrels/" + b.Barrel.String(), DrumTag: b.DrumTag, Ticket: "tickets/" + b.Ticket.String(), TicketNumber: b.TicketNumber,
		DeliveryDate: string(b.Date), Variety: b.Variety, Net: wire.MassToProto(said.Net, a.Terms.Unit), CountedNet: wire.MassToProto(b.Net, a.Terms.Unit),
		Correction: b.Corrected, Withdrawn: true,
	}
	if said.Gross > 0 {
		row.Gross, row.Tare = wire.MassToProto(said.Gross, a.Terms.Unit), wire.MassToProto(said.Tare, a.Terms.Unit)
	}
	if s.Counts && len(b.Owners) == 0 {
		row.Withdrawn = b.Member != out.GetMember()
	}
	for _, o := range b.Owners {
		if s.Counts && o.Member == out.GetMember() {
			row.Withdrawn, row.SharePercent = false, quantity.FormatFixed(o.Share, 4, 0)
		}
	}
	// A ticket reissued to somebody else keeps its barrel; whose it is now, and what became of it, is no business of this member.
	if row.GetWithdrawn() {
		return a.withdrawn(row, out)
	}
	if c := s.Certificate; c != nil {
		row.ColorClass, row.Grade, row.CertificateNumber, row.Readings = c.ColorClass, c.Grade, c.Number, c.Readings
		if c.Water > 0 {
			row.MoisturePercent = c.Water.String()
		}
	}
	for _, p := range out.GetPayouts() {
		if p.GetBarrel() == row.GetBarrel() && p.GetKind() == settlementv1.PayoutKind_PAYOUT_KIND_ADVANCE {
			row.Payable = p.GetPayable() // the last one is what stands
		}
	}
	if s.Standing == nil {
		row.Payable = nil
	}
	return row
}

// withdrawn shows a barrel as this member's last advance for it said.
func (a *App) withdrawn(row *settlementv1.StatementDelivery, out *settlementv1.Statement) *settlementv1.StatementDelivery {
	row.Correction = ""
	for _, p := range slices.Backward(out.GetPayouts()) {
		if p.GetBarrel() == row.GetBarrel() && p.GetKind() == settlementv1.PayoutKind_PAYOUT_KIND_ADVANCE {
			row.Ticket, row.TicketNumber, row.DeliveryDate, row.SharePercent = p.GetTicket(), p.GetTicketNumber(), p.GetDeliveryDate(), p.GetSharePercent()
			break
		}
	}
	row.CountedNet = wire.MassToProto(0, a.Terms.Unit)
	return row
}

// fillContainers lists what the member has out, with the deposits on it.
func (a *App) fillContainers(ctx context.Context, tx pgx.Tx, out *settlementv1.Statement) error {
	found, err := a.Store.ContainersOut(ctx, tx, out.GetMember())
	if err != nil {
		return err
	}
	var sum quantity.Money
	for _, c := range found {
		sum += c.Deposit
		out.Containers = append(out.Containers, &settlementv1.StatementContainers{
			Container: c.Words, GivenOut: c.GivenOut, CameBack: c.CameBack, Lost: c.Lost, Out: c.Out(), Deposit: wire.MoneyToProto(c.Deposit, a.Terms.Currency),
		})
	}
	out.ContainerDeposits = wire.MoneyToProto(sum, a.Terms.Currency)
	return nil
}

// stages sums payouts by what they are: a reversal belongs to what it takes back.
type stages map[domain.Kind]quantity.Money

func (s stages) add(p *domain.Payout, kinds map[uuid.UUID]domain.Kind) {
	kind := p.Kind
	if kind == domain.Reversal {
		kind = kinds[p.Reverses]
	} else {
		kinds[p.ID] = kind
	}
	s[kind] += p.Net
}
