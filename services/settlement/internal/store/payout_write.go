package store

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/settlement/internal/domain"
)

var (
	payoutFields = []string{
		"payout", "kind", "member", "barrel", "drum_tag", "variety", "ticket", "ticket_number", "certificate", "certificate_number",
		"color_class", "grade", "schedule", "run", "share", "weighing", "appeal", "delivery_date", "crop_year", "net", "payable", "gross_amount", "net_amount", "reverses", "reason", "headline", "price_time",
	}
	lineFields = []string{"payout", "line", "kind", "code", "description", "quantity", "rate", "amount", "odd", "explanation"}
)

// InsertPayouts saves payouts with their lines, in order, and keeps the standing advances in step: reversals are taken
// off first, so a barrel's new advance may come in the same call. The gate must be held.
func (Store) InsertPayouts(ctx context.Context, tx pgx.Tx, payouts []*domain.Payout) error {
	if len(payouts) == 0 {
		return nil
	}
	heads, lines := make([][]any, 0, len(payouts)), make([][]any, 0, 4*len(payouts))
	for _, p := range payouts {
		heads = append(heads, payoutRow(p))
		for i, l := range p.Lines {
			lines = append(lines, lineRow(p.ID, i+1, l))
		}
	}
	if _, err := tx.CopyFrom(ctx, pgx.Identifier{"payout"}, payoutFields, pgx.CopyFromRows(heads)); err != nil {
		return fmt.Errorf("save %d payouts: %w", len(payouts), err)
	}
	if _, err := tx.CopyFrom(ctx, pgx.Identifier{"payout_line"}, lineFields, pgx.CopyFromRows(lines)); err != nil {
		return fmt.Errorf("save %d payout lines: %w", len(lines), err)
	}
	return keepStanding(ctx, tx, payouts)
}

func payoutRow(p *domain.Payout) []any {
	b := &p.Barrel
	return []any{
		p.ID, int16(p.Kind), b.Member, b.Barrel, b.DrumTag, b.Variety, b.Ticket, b.TicketNumber, p.Certificate, p.CertificateNumber, //nolint:gosec // one of few kinds
		p.ColorClass, p.Grade, some(p.Schedule), some(p.Run), p.Share, b.Weighing, some(p.Appeal), day(b.Date), int32(b.CropYear), int64(b.Net), int64(p.Payable), int64(p.Gross), int64(p.Net), some(p.Reverses), p.Reason, p.Headline, p.Time, //nolint:gosec // a year
	}
}

// some is NULL for the zero UUID.
func some(id uuid.UUID) *uuid.UUID {
	if id == (uuid.UUID{}) {
		return nil
	}
	return &id
}

func lineRow(payout uuid.UUID, number int, l domain.Line) []any {
	return []any{payout, int16(number), int16(l.Kind), l.Code, l.Description, count(l.Quantity), count(l.Rate), int64(l.Amount), l.Odd, l.Why} //nolint:gosec // at most 18 lines
}

func count[T ~int64](v *T) *int64 {
	if v == nil {
		return nil
	}
	n := int64(*v)
	return &n
}

func keepStanding(ctx context.Context, tx pgx.Tx, payouts []*domain.Payout) error {
	var gone []uuid.UUID
	stands := map[domain.Kind]*struct {
		barrels, payouts []uuid.UUID
		members          []string
	}{domain.Advance: {}, domain.Final: {}}
	for _, p := range payouts {
		if p.Kind == domain.Reversal {
			gone = append(gone, p.Reverses)
		}
		if s := stands[p.Kind]; s != nil {
			s.barrels, s.members, s.payouts = append(s.barrels, p.Barrel.Barrel), append(s.members, p.Barrel.Member), append(s.payouts, p.ID)
		}
	}
	b := &pgx.Batch{}
	b.Queue(`DELETE FROM standing_advance WHERE payout = ANY($1)`, gone)
	b.Queue(`DELETE FROM standing_final WHERE payout = ANY($1)`, gone)
	for _, kind := range []domain.Kind{domain.Advance, domain.Final} {
		table := map[domain.Kind]string{domain.Advance: "standing_advance", domain.Final: "standing_final"}[kind]
		b.Queue(`INSERT INTO `+table+` (barrel, member, payout) SELECT * FROM unnest($1::uuid[], $2::text[], $3::uuid[])`,
			stands[kind].barrels, stands[kind].members, stands[kind].payouts)
	}
	return wrap("note what stands", tx.SendBatch(ctx, b).Close())
}
