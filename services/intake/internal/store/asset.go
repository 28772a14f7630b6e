package store

import (
	"context"
	"errors"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
)

const assetColumns = `d.tag, d.container, d.ownership, coalesce(d.owner, ''), d.register_time, d.retire_time, d.retire_reason,
	d.weighed_tare, d.weighed_time`

const assetSelect = `SELECT ` + assetColumns + ` FROM drum_asset d WHERE d.tag = $1`

// assetRow has what may be missing.
type assetRow struct {
	domain.Asset
	registered, retired, weighed *time.Time
	tare                         *int64
}

func (r *assetRow) targets() []any {
	return []any{
		&r.Tag, &r.Container, &r.Ownership, &r.Owner, &r.registered, &r.retired, &r.RetireReason, &r.tare, &r.weighed,
	}
}

func (r *assetRow) asset() domain.Asset {
	a := r.Asset
	a.RegisterTime, a.RetireTime, a.WeighedTime = orZero(r.registered), orZero(r.retired), orZero(r.weighed)
	a.WeighedTare = quantity.Mass(orZero(r.tare))
	return a
}

// Asset reads what is known of a drum; nothing but its tag if nobody said or weighed anything.
func (Store) Asset(ctx context.Context, q pg.Querier, tag string) (domain.Asset, error) {
	var r assetRow
	err := q.QueryRow(ctx, assetSelect, tag).Scan(r.targets()...)
	if errors.Is(err, pgx.ErrNoRows) {
		return domain.Asset{Tag: tag}, nil
	}
	return r.asset(), wrap(err, "read drum")
}

// Drums lists drums by tag after the one named, with what fills them and what they last weighed empty.
func (Store) Drums(ctx context.Context, q pg.Querier, owner, after string, limit int) ([]domain.Drum, error) {
	rows, err := q.Query(ctx, `SELECT `+assetColumns+`, b.id, b.tare, coalesce(b.tare_kind, ''), b.weigh_time
		FROM drum_asset d LEFT JOIN barrel b ON b.drum_tag = d.tag AND b.open
		WHERE d.tag > $1 AND ($2::text IS NULL OR d.owner = $2) ORDER BY d.tag LIMIT $3`, after, orNull(owner), limit)
	if err != nil {
		return nil, wrap(err, "list drums")
	}
	drums, err := pgx.CollectRows(rows, scanDrum)
	return drums, wrap(err, "list drums")
}

func scanDrum(row pgx.CollectableRow) (domain.Drum, error) {
	var r assetRow
	var barrel *uuid.UUID
	var tare *int64
	var kind domain.TareKind
	var at *time.Time
	if err := row.Scan(append(r.targets(), &barrel, &tare, &kind, &at)...); err != nil {
		return domain.Drum{}, err
	}
	d := domain.Drum{Tag: r.Tag, Asset: r.asset()}
	if barrel != nil {
		d.Fill = &domain.Fill{Barrel: *barrel, Tare: quantity.Mass(*tare), TareKind: kind, WeighTime: *at}
	}
	if d.Asset.WeighedTare != 0 {
		d.Tares = []domain.Tare{{Weight: d.Asset.WeighedTare, Weighed: true, Time: d.Asset.WeighedTime}}
	}
	return d, nil
}

const insertDrumEvent = `INSERT INTO drum_event (drum_tag, kind, container, ownership, owner, reason, actor, event_time)
	VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`

// RegisterDrum stores what was said of a drum; the first time of registering stays.
func (Store) RegisterDrum(ctx context.Context, q pg.Querier, a domain.Asset, actor string) error {
	b := &pgx.Batch{}
	b.Queue(`INSERT INTO drum_asset (tag, container, ownership, owner, register_time) VALUES ($1, $2, $3, $4, $5)
		ON CONFLICT ON CONSTRAINT drum_asset_pk DO UPDATE SET container = $2, ownership = $3, owner = $4,
			register_time = coalesce(drum_asset.register_time, $5)`,
		a.Tag, a.Container, a.Ownership, orNull(a.Owner), a.RegisterTime)
	b.Queue(insertDrumEvent, a.Tag, "REGISTERED", a.Container, a.Ownership, orNull(a.Owner), "", actor, a.RegisterTime)
	return wrap(q.SendBatch(ctx, b).Close(), "register drum")
}

// RetireDrum stores that a drum was taken out of use.
func (Store) RetireDrum(ctx context.Context, q pg.Querier, a domain.Asset, actor string) error {
	b := &pgx.Batch{}
	b.Queue(`INSERT INTO drum_asset (tag, retire_time, retire_reason) VALUES ($1, $2, $3)
		ON CONFLICT ON CONSTRAINT drum_asset_pk DO UPDATE SET retire_time = $2, retire_reason = $3`, a.Tag, a.RetireTime, a.RetireReason)
	b.Queue(insertDrumEvent, a.Tag, "RETIRED", a.Container, a.Ownership, orNull(a.Owner), a.RetireReason, actor, a.RetireTime)
	return wrap(q.SendBatch(ctx, b).Close(), "retire drum")
}

// KeepTare keeps the newest measured empty weight of a drum where a weighing finds it.
func (Store) KeepTare(ctx context.Context, q pg.Querier, tag string, t domain.Tare) error {
	_, err := q.Exec(ctx, `INSERT INTO drum_asset (tag, weighed_tare, weighed_time) VALUES ($1, $2, $3)
		ON CONFLICT ON CONSTRAINT drum_asset_pk DO UPDATE SET weighed_tare = $2, weighed_time = $3`, tag, t.Weight, t.Time)
	return wrap(err, "keep the tare of a drum")
}
