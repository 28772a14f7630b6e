package store

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/pg"
)

// Doubts lists the barrels of live tickets weighed or weighed again on the scale after the check before c.
func (Store) Doubts(ctx context.Context, q pg.Querier, c domain.Check) ([]domain.Doubt, error) {
	return collectDoubts(q.Query(ctx, `SELECT b.id, t.id, t.site, t.year, t.ordinal, b.open FROM barrel b
		JOIN ticket_line l ON l.barrel = b.id JOIN ticket t ON t.id = l.ticket AND t.state IN ('OPEN', 'CLOSED')
		WHERE b.scale = $1 AND b.check_ordinal = $2
			OR b.id IN (SELECT w.barrel FROM reweigh w WHERE w.scale = $1 AND w.check_ordinal = $2) ORDER BY b.weigh_time, t.year, t.ordinal, l.line`, c.Scale, c.InDoubtUnder()))
}

func collectDoubts(rows pgx.Rows, err error) ([]domain.Doubt, error) {
	if err != nil {
		return nil, wrap(err, "list barrels in doubt")
	}
	doubts, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (domain.Doubt, error) {
		var d domain.Doubt
		err := row.Scan(&d.Barrel, &d.Ticket, &d.Number.Site, &d.Number.Year, &d.Number.Ordinal, &d.InDrum)
		return d, err
	})
	return doubts, wrap(err, "list barrels in doubt")
}

// InsertReview stores a review with its barrels.
func (Store) InsertReview(ctx context.Context, q pg.Querier, r domain.ScaleReview) error {
	barrels, tickets, inDrum := make([]uuid.UUID, 0, len(r.Doubts)), make([]uuid.UUID, 0, len(r.Doubts)), make([]bool, 0, len(r.Doubts))
	for _, d := range r.Doubts {
		barrels, tickets, inDrum = append(barrels, d.Barrel), append(tickets, d.Ticket), append(inDrum, d.InDrum)
	}
	b := &pgx.Batch{}
	b.Queue(`INSERT INTO scale_review (id, scale_check, since_time, open_time) VALUES ($1, $2, $3, $4)`,
		r.ID, r.Failed.ID, nullTime(r.SinceTime), r.OpenTime)
	b.Queue(`INSERT INTO scale_review_barrel (review, place, barrel, ticket, in_drum)
		SELECT $1, d.place, d.barrel, d.ticket, d.in_drum
		FROM unnest($2::uuid[], $3::uuid[], $4::bool[]) WITH ORDINALITY AS d (barrel, ticket, in_drum, place)`,
		r.ID, barrels, tickets, inDrum)
	return wrap(q.SendBatch(ctx, b).Close(), "insert scale review")
}

// Reviews lists reviews with their failed checks and barrels, newest first.
func (st Store) Reviews(ctx context.Context, q pg.Querier, f domain.ReviewFilter) ([]domain.ScaleReview, error) {
	return st.reviews(ctx, q, `WHERE ($1::timestamptz IS NULL OR (r.open_time, r.id) < ($1, $2)) AND NOT ($3 AND x.review IS NOT NULL)
		ORDER BY r.open_time DESC, r.id DESC LIMIT $4`, nullTime(f.Before.Time), f.Before.ID, f.OpenOnly, f.Limit)
}

func (st Store) reviews(ctx context.Context, q pg.Querier, where string, args ...any) ([]domain.ScaleReview, error) {
	rows, err := q.Query(ctx, `SELECT r.id, r.since_time, r.open_time, coalesce(x.resolver, ''), x.resolve_time, c.id, c.scale, c.ordinal, c.zero_indication, c.tolerance_kind,
			c.passed, c.finding, c.seal, c.checker, c.check_time, c.check_date::text, s.accuracy_class
		FROM scale_review r JOIN scale_check c ON c.id = r.scale_check JOIN scale s ON s.id = c.scale LEFT JOIN scale_review_resolution x ON x.review = r.id `+where,
		args...)
	if err != nil {
		return nil, wrap(err, "list scale reviews")
	}
	reviews, err := pgx.CollectRows(rows, scanReview)
	if err != nil {
		return nil, wrap(err, "list scale reviews")
	}
	return reviews, st.completeReviews(ctx, q, reviews)
}

func scanReview(row pgx.CollectableRow) (domain.ScaleReview, error) {
	var r domain.ScaleReview
	var since, resolved *time.Time
	c := &r.Failed
	err := row.Scan(&r.ID, &since, &r.OpenTime, &r.Resolver, &resolved, &c.ID, &c.Scale, &c.Ordinal, &c.Zero, &c.Column, &c.Passed, &c.Finding, &c.Seal,
		&c.Checker, &c.Time, &c.Date, &c.Class)
	r.SinceTime, r.ResolveTime = orZero(since), orZero(resolved)
	return r, err
}

func (st Store) completeReviews(ctx context.Context, q pg.Querier, reviews []domain.ScaleReview) error {
	checks := map[uuid.UUID]*domain.Check{}
	var ids []uuid.UUID
	for i := range reviews {
		checks[reviews[i].Failed.ID] = &reviews[i].Failed
		ids = append(ids, reviews[i].Failed.ID)
	}
	if err := st.readLoads(ctx, q, ids, checks); err != nil {
		return err
	}
	for i := range reviews {
		var err error
		if reviews[i].Doubts, err = collectDoubts(q.Query(ctx, `SELECT d.barrel, d.ticket, t.site, t.year, t.ordinal, d.in_drum
			FROM scale_review_barrel d JOIN ticket t ON t.id = d.ticket WHERE d.review = $1 ORDER BY d.place`, reviews[i].ID)); err != nil {
			return err
		}
		if reviews[i].Resolver == "" {
			continue
		}
		if reviews[i].Findings, err = findings(ctx, q, reviews[i].ID); err != nil {
			return err
		}
	}
	return nil
}

// InsertTareVariance stores what an emptied drum showed.
func (Store) InsertTareVariance(ctx context.Context, q pg.Querier, v domain.TareVariance) error {
	_, err := q.Exec(ctx, `INSERT INTO tare_variance (barrel, ticket, drum_tag, tare, tare_kind, empty_weight, allowed, finder, find_time)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
		v.Barrel, v.Ticket, v.DrumTag, v.Tare, v.TareKind, v.EmptyWeight, v.Allowed, v.Finder, v.FindTime)
	return wrap(err, "insert tare variance")
}

// TareVariances lists variances, newest first.
func (Store) TareVariances(ctx context.Context, q pg.Querier, before domain.PageKey, limit int) ([]domain.TareVariance, error) {
	rows, err := q.Query(ctx, `SELECT v.barrel, v.ticket, t.member, v.drum_tag, v.tare, v.tare_kind, v.empty_weight, v.allowed,
			v.finder, v.find_time
		FROM tare_variance v JOIN ticket t ON t.id = v.ticket
		WHERE $1::timestamptz IS NULL OR (v.find_time, v.barrel) < ($1, $2) ORDER BY v.find_time DESC, v.barrel DESC LIMIT $3`,
		nullTime(before.Time), before.ID, limit)
	if err != nil {
		return nil, wrap(err, "list tare variances")
	}
	found, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (domain.TareVariance, error) {
		var v domain.TareVariance
		err := row.Scan(&v.Barrel, &v.Ticket, &v.Member, &v.DrumTag, &v.Tare, &v.TareKind, &v.EmptyWeight, &v.Allowed, &v.Finder, &v.FindTime)
		return v, err
	})
	return found, wrap(err, "list tare variances")
}
