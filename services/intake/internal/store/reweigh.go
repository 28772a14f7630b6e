package store

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/pg"
)

// LockReviews keeps re-weighs and decisions on reviews apart until the transaction ends. It comes before all other locks.
func (Store) LockReviews(ctx context.Context, q pg.Querier, exclusive bool) error {
	lock := `SELECT pg_advisory_xact_lock_shared(hashtextextended('intake reviews', 0))`
	if exclusive {
		lock = `SELECT pg_advisory_xact_lock(hashtextextended('intake reviews', 0))`
	}
	_, err := q.Exec(ctx, lock)
	return wrap(err, "lock reviews")
}

// LockScaleForWeighing keeps a scale from being checked until the transaction ends.
func (Store) LockScaleForWeighing(ctx context.Context, q pg.Querier, id string) error {
	_, err := q.Exec(ctx, `SELECT pg_advisory_xact_lock_shared(hashtextextended('intake scale ' || $1, 0))`, id)
	return wrap(err, "lock scale")
}

const reweighSelect = `SELECT r.barrel, r.ordinal, r.gross, r.previous, r.tolerance, b.tare, b.gross, r.scale, r.check_ordinal,
		r.raw_indication, r.manual, r.reason, r.weigher, r.weigh_time,
		EXISTS (SELECT FROM scale_check k WHERE k.scale = r.scale AND k.ordinal = r.check_ordinal + 1 AND NOT k.passed)
	FROM reweigh r JOIN barrel b ON b.id = r.barrel `

func scanReweigh(row pgx.CollectableRow) (domain.Reweigh, error) {
	var r domain.Reweigh
	err := row.Scan(&r.Barrel, &r.Ordinal, &r.Gross, &r.Previous, &r.Tolerance, &r.Tare, &r.TicketGross, &r.Scale, &r.CheckOrdinal,
		&r.RawIndication, &r.Manual, &r.Reason, &r.Weigher, &r.Time, &r.Doubted)
	return r, err
}

// Reweighs lists those of a barrel, oldest first.
func (Store) Reweighs(ctx context.Context, q pg.Querier, b domain.Barrel) (domain.Reweighs, error) {
	rows, err := q.Query(ctx, reweighSelect+`WHERE r.barrel = $1 ORDER BY r.ordinal`, b.ID)
	if err != nil {
		return nil, wrap(err, "list re-weighs")
	}
	found, err := pgx.CollectRows(rows, scanReweigh)
	return found, wrap(err, "list re-weighs")
}

// InsertReweigh stores a re-weigh of a barrel whose drum is locked.
func (Store) InsertReweigh(ctx context.Context, q pg.Querier, r domain.Reweigh) error {
	_, err := q.Exec(ctx, `INSERT INTO reweigh (barrel, ordinal, gross, previous, tolerance, scale, check_ordinal, raw_indication, manual,
			reason, weigher, weigh_time) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)`,
		r.Barrel, r.Ordinal, r.Gross, r.Previous, r.Tolerance, r.Scale, r.CheckOrdinal, r.RawIndication, r.Manual, r.Reason, r.Weigher, r.Time)
	if err != nil || r.Capture == uuid.Nil {
		return wrap(err, "insert re-weigh")
	}
	_, err = q.Exec(ctx, useCapture, r.Capture, r.Barrel, r.Ordinal)
	return wrap(pg.Named(err, captureUsed(r.Scale, r.Capture)), "use a captured weight")
}

// InOpenReview reports whether a review nobody decided lists the barrel.
func (Store) InOpenReview(ctx context.Context, q pg.Querier, barrel uuid.UUID) (bool, error) {
	var in bool
	err := q.QueryRow(ctx, `SELECT EXISTS (SELECT FROM scale_review_barrel d WHERE d.barrel = $1
		AND NOT EXISTS (SELECT FROM scale_review_resolution x WHERE x.review = d.review))`, barrel).Scan(&in)
	return in, wrap(err, "look for reviews of a barrel")
}

// Review reads a review with its barrels. It fails with NOT_FOUND.
func (st Store) Review(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.ScaleReview, error) {
	found, err := st.reviews(ctx, q, `WHERE r.id = $1`, id)
	if err != nil || len(found) == 1 {
		return append(found, domain.ScaleReview{})[0], err
	}
	return domain.ScaleReview{}, domain.NotFound(domain.ScaleReview{ID: id}.Name())
}

// Suspects reads the barrels of a review as they stand now, in the order of its doubts.
func (Store) Suspects(ctx context.Context, q pg.Querier, r domain.ScaleReview) ([]domain.Suspect, error) {
	all := make([]domain.Suspect, len(r.Doubts))
	place := map[uuid.UUID]int{}
	ids := make([]uuid.UUID, 0, len(r.Doubts))
	for i, d := range r.Doubts {
		place[d.Barrel] = i
		ids = append(ids, d.Barrel)
	}
	rows, err := q.Query(ctx, `SELECT `+barrelColumns+`, t.state FROM barrel b JOIN ticket_line l ON l.barrel = b.id
		JOIN ticket t ON t.id = l.ticket AND t.state <> 'SUPERSEDED'`+barrelParts+`WHERE b.id = ANY($1)`, ids)
	if err != nil {
		return nil, wrap(err, "read the barrels of a review")
	}
	found, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (domain.Suspect, error) {
		var s domain.Suspect
		var err error
		s.Barrel, err = scanBarrel(row, &s.State)
		return s, err
	})
	if err != nil {
		return nil, wrap(err, "read the barrels of a review")
	}
	for _, s := range found {
		all[place[s.Barrel.ID]] = s
	}
	rows, err = q.Query(ctx, reweighSelect+`WHERE r.barrel = ANY($1) ORDER BY r.ordinal`, ids)
	if err != nil {
		return nil, wrap(err, "read the re-weighs of a review")
	}
	again, err := pgx.CollectRows(rows, scanReweigh)
	for _, w := range again {
		s := &all[place[w.Barrel]]
		s.Reweighs = append(s.Reweighs, w)
	}
	return all, wrap(err, "read the re-weighs of a review")
}

// InsertResolution stores what was decided about a review.
func (Store) InsertResolution(ctx context.Context, q pg.Querier, r domain.ScaleReview) error {
	b := &pgx.Batch{}
	b.Queue(`INSERT INTO scale_review_resolution (review, resolver, resolve_time) VALUES ($1, $2, $3)`, r.ID, r.Resolver, r.ResolveTime)
	for i, f := range r.Findings {
		b.Queue(`INSERT INTO scale_review_finding (review, place, barrel, outcome, reweigh, net, ticket_net, note)
			VALUES ($1, $2, $3, $4, nullif($5, 0), $6, $7, $8)`, r.ID, i+1, f.Barrel, f.Outcome, f.Reweigh, f.Net, f.TicketNet, f.Note)
	}
	return wrap(q.SendBatch(ctx, b).Close(), "insert the resolution of a scale review")
}

func findings(ctx context.Context, q pg.Querier, review uuid.UUID) ([]domain.Finding, error) {
	rows, err := q.Query(ctx, `SELECT barrel, outcome, coalesce(reweigh, 0), net, ticket_net, note FROM scale_review_finding
		WHERE review = $1 ORDER BY place`, review)
	if err != nil {
		return nil, wrap(err, "read the findings of a review")
	}
	found, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (domain.Finding, error) {
		var f domain.Finding
		err := row.Scan(&f.Barrel, &f.Outcome, &f.Reweigh, &f.Net, &f.TicketNet, &f.Note)
		return f, err
	})
	return found, wrap(err, "read the findings of a review")
}
