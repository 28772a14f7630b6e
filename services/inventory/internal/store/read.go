package store

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/pg"
)

// Tables filled from the feed of one neighbour; a rebuild empties them first.
var (
	IntakeTables  = []string{"barrel", "barrel_owner", "sample", "barrel_claim"}
	GradingTables = []string{"certificate"}
)

// PutBarrel notes a barrel as its live ticket says it is.
func (Store) PutBarrel(ctx context.Context, q pg.Querier, i stock.Item) error {
	_, err := q.Exec(ctx, `
		INSERT INTO barrel (barrel, ticket, member, drum_tag, net, variety, crop_year, receive_date, withdrawn, weigh_time)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8::text::date, $9, $10)
		ON CONFLICT (barrel) DO UPDATE SET ticket = excluded.ticket, member = excluded.member, drum_tag = excluded.drum_tag,
			net = excluded.net, variety = excluded.variety, crop_year = excluded.crop_year,
			receive_date = excluded.receive_date, withdrawn = excluded.withdrawn, weigh_time = excluded.weigh_time`,
		i.Barrel, i.Ticket, i.Member, i.DrumTag, i.Net, i.Variety, i.CropYear, i.ReceiveDate, i.State == stock.Withdrawn, i.Weighed)
	return wrap("note barrel", err)
}

// PutOwners notes who shares what is paid for a barrel, in place of who did before.
func (Store) PutOwners(ctx context.Context, q pg.Querier, barrel uuid.UUID, members []string) error {
	b := &pgx.Batch{}
	b.Queue(`DELETE FROM barrel_owner WHERE barrel = $1`, barrel)
	b.Queue(`INSERT INTO barrel_owner (barrel, member) SELECT DISTINCT $1::uuid, unnest($2::text[])`, barrel, members)
	return wrap("note the owners of a barrel", q.SendBatch(ctx, b).Close())
}

// Owned reports whether a member owns any of some barrels or has a share in it; what was filled from a barrel is whose that was.
func (Store) Owned(ctx context.Context, q pg.Querier, barrels []uuid.UUID, member string) (bool, error) {
	var owned bool
	err := q.QueryRow(ctx, `
		SELECT EXISTS (SELECT FROM holding h WHERE h.barrel = ANY($1)
		    AND (h.member = $2 OR EXISTS (SELECT FROM barrel_owner o WHERE o.barrel = h.root AND o.member = $2)))`, barrels, member).Scan(&owned)
	return owned, wrap("look for a member's honey", err)
}

// Withdraw notes that the barrels of a ticket count no more.
func (Store) Withdraw(ctx context.Context, q pg.Querier, ticket uuid.UUID) error {
	_, err := q.Exec(ctx, `UPDATE barrel SET withdrawn = true WHERE ticket = $1`, ticket)
	return wrap("withdraw barrels", err)
}

// PutSample notes where a blind sample was drawn.
func (Store) PutSample(ctx context.Context, q pg.Querier, sample string, barrel uuid.UUID) error {
	_, err := q.Exec(ctx, `
		INSERT INTO sample (sample, barrel) VALUES ($1, $2) ON CONFLICT (sample) DO UPDATE SET barrel = excluded.barrel`,
		sample, barrel)
	return wrap("note sample", err)
}

// DrawnFrom finds the barrels of blind samples.
func (Store) DrawnFrom(ctx context.Context, q pg.Querier, samples []string) (map[string]uuid.UUID, error) {
	rows, err := q.Query(ctx, `SELECT sample, barrel FROM sample WHERE sample = ANY($1)`, samples)
	if err != nil {
		return nil, fmt.Errorf("find barrels of samples: %w", err)
	}
	out := make(map[string]uuid.UUID, len(samples))
	var sample string
	var barrel uuid.UUID
	_, err = pgx.ForEachRow(rows, []any{&sample, &barrel}, func() error {
		out[sample] = barrel
		return nil
	})
	return out, wrap("find barrels of samples", err)
}

// measured is when HMF was read, nil where it was not.
func measured(g stock.Grading) *time.Time {
	if g.HMF == nil {
		return nil
	}
	return &g.HMFRead
}

// PutCertificate notes the certificate that stands for a sample from now on. The feed is in causal order, so one that
// supersedes another arrives after it.
func (Store) PutCertificate(ctx context.Context, q pg.Querier, c stock.Certificate) error {
	_, err := q.Exec(ctx, `
		INSERT INTO certificate (sample, certificate, grade, color_class, moisture, pfund, issue_time, hmf, hmf_time)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)
		ON CONFLICT (sample) DO UPDATE SET certificate = excluded.certificate, grade = excluded.grade,
			color_class = excluded.color_class, moisture = excluded.moisture, pfund = excluded.pfund,
			issue_time = excluded.issue_time, hmf = excluded.hmf, hmf_time = excluded.hmf_time`,
		c.Sample, c.Grading.Certificate, c.Grading.Grade, c.Grading.ColorClass, percent(c.Grading.Moisture), c.Grading.Pfund, c.Issued,
		c.Grading.HMF, measured(c.Grading))
	return wrap("note certificate", err)
}
