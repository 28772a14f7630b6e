package store

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// ReadTables of each feed's consumer.
var (
	IntakeTables    = []string{"intake_member", "intake_barrel", "intake_sample", "intake_reweigh", "intake_tare", "intake_doubt", "intake_container"}
	GradingTables   = []string{"grading_certificate", "grading_doubt", "grading_fee"}
	InventoryTables = []string{"inventory_hold", "inventory_sale_part"}
)

// KeepMember notes a member's name.
func (Store) KeepMember(ctx context.Context, tx pgx.Tx, member, displayName string) error {
	return exec(ctx, tx, "note the member", `INSERT INTO intake_member (member, display_name) VALUES ($1, $2)
		ON CONFLICT (member) DO UPDATE SET display_name = excluded.display_name`, member, displayName)
}

// KeepSample notes which barrel a blind sample was drawn from.
func (Store) KeepSample(ctx context.Context, tx pgx.Tx, sample string, barrel uuid.UUID) error {
	return exec(ctx, tx, "note the sample", `INSERT INTO intake_sample (sample, barrel) VALUES ($1, $2)
		ON CONFLICT (sample) DO UPDATE SET barrel = excluded.barrel`, sample, barrel)
}

// KeepBarrels notes the barrels of a closed ticket, under it from now on.
func (Store) KeepBarrels(ctx context.Context, tx pgx.Tx, barrels []domain.Weighed) error {
	b := &pgx.Batch{}
	for _, d := range barrels {
		owners, shares := make([]string, len(d.Owners)), make([]int64, len(d.Owners))
		for i, o := range d.Owners {
			owners[i], shares[i] = o.Member, o.Share
		}
		b.Queue(`INSERT INTO intake_barrel
			(barrel, ticket, ticket_number, member, drum_tag, variety, net, crop_year, delivery_date, counts, owners, shares, gross, tare)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, true, $10, $11, $12, $13)
			ON CONFLICT (barrel) DO UPDATE SET (ticket, ticket_number, member, drum_tag, variety, net, crop_year, delivery_date, counts, owners, shares, gross, tare)
			= (excluded.ticket, excluded.ticket_number, excluded.member, excluded.drum_tag, excluded.variety, excluded.net,
				excluded.crop_year, excluded.delivery_date, true, excluded.owners, excluded.shares, excluded.gross, excluded.tare)`,
			d.Barrel, d.Ticket, d.TicketNumber, d.Member, d.DrumTag, d.Variety, d.Net, d.CropYear, day(d.Date), owners, shares, known(d.Gross), known(d.Tare))
	}
	return wrap("note the barrels", tx.SendBatch(ctx, b).Close())
}

// known is NULL for a weight that was not said.
func known(m quantity.Mass) *quantity.Mass {
	if m == 0 {
		return nil
	}
	return &m
}

// KeepContainers notes what a member has out of one type, as it stands now.
func (Store) KeepContainers(ctx context.Context, tx pgx.Tx, c domain.Containers) error {
	return exec(ctx, tx, "note the containers", `INSERT INTO intake_container (member, container, words, given_out, came_back, lost, deposit)
		VALUES ($1, $2, $3, $4, $5, $6, $7) ON CONFLICT (member, container) DO UPDATE SET (words, given_out, came_back, lost, deposit)
		= (excluded.words, excluded.given_out, excluded.came_back, excluded.lost, excluded.deposit)`,
		c.Member, int16(c.Type), c.Words, c.GivenOut, c.CameBack, c.Lost, c.Deposit) //nolint:gosec // one of few types
}

// WithdrawTicket notes that the barrels still on a ticket count no more, and gives them.
func (Store) WithdrawTicket(ctx context.Context, tx pgx.Tx, ticket uuid.UUID) ([]uuid.UUID, error) {
	return collect(ctx, tx, "note the void", `UPDATE intake_barrel SET counts = false WHERE ticket = $1 RETURNING barrel`, pgx.RowTo[uuid.UUID], ticket)
}

// SampleBarrels is the barrel a sample was drawn from; none before intake said which.
func (Store) SampleBarrels(ctx context.Context, tx pgx.Tx, sample string) ([]uuid.UUID, error) {
	return collect(ctx, tx, "look up the sample", `SELECT barrel FROM intake_sample WHERE sample = $1`, pgx.RowTo[uuid.UUID], sample)
}

// KeepCertificate notes a certificate and what it replaces.
func (Store) KeepCertificate(ctx context.Context, tx pgx.Tx, g domain.Graded) error {
	b := &pgx.Batch{}
	b.Queue(`INSERT INTO grading_certificate
		(certificate, sample, number, grade, color_class, moisture, readings, issue_time, reason) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)
		ON CONFLICT (certificate) DO NOTHING`,
		g.ID, g.Sample, g.Number, g.Grade, g.ColorClass, g.Water, g.Readings, g.IssueTime, g.Reason)
	if g.Supersedes != nil {
		b.Queue(`UPDATE grading_certificate SET superseded_by = $2 WHERE certificate = $1`, *g.Supersedes, g.ID)
	}
	return wrap("note the certificate", tx.SendBatch(ctx, b).Close())
}

// KeepHold notes a hold or, when released is true, its end.
func (Store) KeepHold(ctx context.Context, tx pgx.Tx, hold, barrel uuid.UUID, code string, placed time.Time, released bool) error {
	return exec(ctx, tx, "note the hold", `INSERT INTO inventory_hold (hold, barrel, code, place_time, released) VALUES ($1, $2, $3, $4, $5)
		ON CONFLICT (hold) DO UPDATE SET released = excluded.released`, hold, barrel, code, placed, released)
}
