package store

import (
	"context"
	"fmt"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

var (
	payoutFields = []string{
		"payout", "kind", "member", "barrel", "drum_tag", "variety", "ticket", "ticket_number", "certificate", "certificate_number",
		"color_class", "grade", "schedule", "run", "share", "weighing", "appeal", "progress", "delivery_date", "crop_year", "net", "payable", "gross_amount", "net_amount", "reverses", "reason", "headline", "price_time",
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
		p.ColorClass, p.Grade, some(p.Schedule), some(p.Run), p.Share, b.Weighing, some(p.Appeal), some(p.Progress), day(b.Date), int32(b.CropYear), int64(b.Net), int64(p.Payable), int64(p.Gross), int64(p.Net), some(p.Reverses), p.Reason, p.Headline, p.Time, //nolint:gosec // a year
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

// advanceFields are what standing_advance repeats of a payout for the closing of its pool, and the types they are sent as.
var (
	finalFields    = []string{"barrel", "member", "payout"}
	progressFields = append(slices.Clone(finalFields), "amount")
	advanceFields  = append(slices.Clone(finalFields), "certificate", "crop_year", "variety", "color_class", "grade", "share", "payable", "step", "gross_amount")
)

func keepStanding(ctx context.Context, tx pgx.Tx, payouts []*domain.Payout) error {
	var gone []uuid.UUID
	var advances, finals, progress [][]any
	for _, p := range payouts {
		switch p.Kind {
		case domain.Reversal:
			gone = append(gone, p.Reverses)
		case domain.Advance:
			advances = append(advances, append(standingRow(p), p.Certificate, int32(p.Barrel.CropYear), p.Barrel.Variety, p.ColorClass, p.Grade, //nolint:gosec // a year
				p.Share, int64(p.Payable), int64(stepOf(p)), int64(p.Gross)))
		case domain.Final:
			finals = append(finals, standingRow(p))
		case domain.Progress:
			progress = append(progress, append(standingRow(p), int64(p.Gross)))
		case domain.Fee:
		}
	}
	if len(gone) > 0 {
		b := &pgx.Batch{}
		b.Queue(`DELETE FROM standing_advance WHERE payout = ANY($1)`, gone)
		b.Queue(`DELETE FROM standing_final WHERE payout = ANY($1)`, gone)
		b.Queue(`DELETE FROM standing_progress WHERE payout = ANY($1)`, gone)
		if err := tx.SendBatch(ctx, b).Close(); err != nil {
			return fmt.Errorf("note what stands no more: %w", err)
		}
	}
	if err := copyStanding(ctx, tx, "standing_advance", advanceFields, advances); err != nil {
		return err
	}
	if err := copyStanding(ctx, tx, "standing_final", finalFields, finals); err != nil {
		return err
	}
	return keepProgress(ctx, tx, progress)
}

// keepProgress notes progress payments, and that what an advance has credited is that much more. An advance is only ever taken
// back together with them.
func keepProgress(ctx context.Context, tx pgx.Tx, rows [][]any) error {
	if len(rows) == 0 {
		return nil
	}
	if err := copyStanding(ctx, tx, "standing_progress", progressFields, rows); err != nil {
		return err
	}
	payouts := make([]uuid.UUID, len(rows))
	for i, r := range rows {
		payouts[i], _ = r[2].(uuid.UUID)
	}
	return exec(ctx, tx, "note what is credited", `UPDATE standing_advance a SET gross_amount = a.gross_amount + s.amount
		FROM (SELECT barrel, member, sum(amount) AS amount FROM standing_progress WHERE payout = ANY($1) GROUP BY 1, 2) s
		WHERE s.barrel = a.barrel AND s.member = a.member`, payouts)
}

func standingRow(p *domain.Payout) []any { return []any{p.Barrel.Barrel, p.Barrel.Member, p.ID} }

// stepOf is what came off the price for water: zero or negative.
func stepOf(p *domain.Payout) (sum quantity.Money) {
	for _, l := range p.Lines {
		if l.Kind == domain.LineStep {
			sum += l.Amount
		}
	}
	return sum
}

func copyStanding(ctx context.Context, tx pgx.Tx, table string, fields []string, rows [][]any) error {
	if len(rows) == 0 {
		return nil
	}
	_, err := tx.CopyFrom(ctx, pgx.Identifier{table}, fields, pgx.CopyFromRows(rows))
	return wrap("note what stands", err)
}
