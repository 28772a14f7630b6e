package store

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/label"
	"barrelhead.example/services/kit/pg"
)

// AddLabel enters a label.
func (Store) AddLabel(ctx context.Context, q pg.Querier, l label.Label) error {
	claims := l.Face.Claims
	if claims == nil {
		claims = []label.Claim{}
	}
	tag, err := q.Exec(ctx, `
		INSERT INTO label (label, title, variety, min_share, max_moisture, min_pfund, max_pfund, creator, create_time,
		                   gtin, net_ounces, net_grams, origin, claims, max_celsius, infant_caution, certified_claims, shelf_months)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, coalesce($17::text[], '{}'), nullif($18, 0)) ON CONFLICT (label) DO NOTHING`,
		l.ID, l.Title, l.Rules.Variety, l.Rules.MinShare, number(l.Rules.MaxMoisture), number(l.Rules.MinPfund), number(l.Rules.MaxPfund),
		l.Creator, l.Time, l.Face.GTIN, l.Face.Ounces, l.Face.Grams, l.Face.Origin, claims, number(l.Face.MaxCelsius), l.Face.InfantCaution, l.Face.Certified, l.ShelfMonths)
	if err == nil && tag.RowsAffected() == 0 {
		return &app.ExistsError{Resource: l.Name()}
	}
	return wrap("enter label", err)
}

const labelColumns = `
SELECT l.label, l.title, l.variety, l.min_share, l.max_moisture, l.min_pfund, l.max_pfund, l.creator, l.create_time,
       l.gtin, l.net_ounces, l.net_grams, l.origin, l.claims, l.max_celsius, l.infant_caution, l.certified_claims, coalesce(l.shelf_months, 0), a.approver, a.evidence, a.approve_time
FROM label l LEFT JOIN label_approval a USING (label)`

func scanLabel(row pgx.CollectableRow) (label.Label, error) {
	var l label.Label
	var approver, evidence *string
	var approved *time.Time
	err := row.Scan(&l.ID, &l.Title, &l.Rules.Variety, &l.Rules.MinShare, &l.Rules.MaxMoisture, &l.Rules.MinPfund, &l.Rules.MaxPfund,
		&l.Creator, &l.Time, &l.Face.GTIN, &l.Face.Ounces, &l.Face.Grams, &l.Face.Origin, &l.Face.Claims, &l.Face.MaxCelsius, &l.Face.InfantCaution, &l.Face.Certified, &l.ShelfMonths,
		&approver, &evidence, &approved)
	l.Time = utc(l.Time)
	if err == nil && approver != nil {
		l.Approval = &label.Approval{Approver: *approver, Evidence: *evidence, Time: utc(*approved)}
	}
	return l, err
}

// LockLabel waits for whoever is approving it.
func (s Store) LockLabel(ctx context.Context, q pg.Querier, id string) (label.Label, error) {
	if _, err := q.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtextextended('labels/' || $1, 0))`, id); err != nil {
		return label.Label{}, fmt.Errorf("lock label: %w", err)
	}
	return s.Label(ctx, q, id)
}

// AddApproval records that a label may be used.
func (Store) AddApproval(ctx context.Context, q pg.Querier, l label.Label) error {
	_, err := q.Exec(ctx, `INSERT INTO label_approval (label, approver, evidence, approve_time) VALUES ($1, $2, $3, $4)`,
		l.ID, l.Approval.Approver, l.Approval.Evidence, l.Approval.Time)
	return wrap("approve label", err)
}

// Label reads one.
func (Store) Label(ctx context.Context, q pg.Querier, id string) (label.Label, error) {
	rows, err := q.Query(ctx, labelColumns+` WHERE l.label = $1`, id)
	if err != nil {
		return label.Label{}, fmt.Errorf("read label: %w", err)
	}
	l, err := pgx.CollectExactlyOneRow(rows, scanLabel)
	return l, found(err, "labels/"+id, "read label")
}

// Labels lists labels by id.
func (Store) Labels(ctx context.Context, q pg.Querier, after string, limit int) ([]label.Label, error) {
	rows, err := q.Query(ctx, labelColumns+` WHERE l.label > $1 ORDER BY l.label LIMIT $2`, after, limit)
	if err != nil {
		return nil, fmt.Errorf("list labels: %w", err)
	}
	labels, err := pgx.CollectRows(rows, scanLabel)
	return labels, wrap("list labels", err)
}
