package store

import (
	"context"
	"errors"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/pg"
)

const (
	placeTicket = `SELECT site, year, ordinal, state, member, crop_year, barrel_count FROM ticket WHERE id = $1`
	placeDrum   = `SELECT id FROM barrel WHERE drum_tag = $1 AND open`
)

// Place reads in one round trip what decides about a weighing. It fails with NOT_FOUND for the ticket or the scale.
func (Store) Place(ctx context.Context, q pg.Querier, b domain.Barrel) (domain.Place, error) {
	p := domain.Place{Ticket: domain.Ticket{ID: b.Ticket}, Asset: domain.Asset{Tag: b.DrumTag}}
	batch := &pgx.Batch{}
	batch.Queue(placeTicket, [16]byte(b.Ticket)).QueryRow(optional(func(row pgx.Row) error {
		t := &p.Ticket
		return row.Scan(&t.Number.Site, &t.Number.Year, &t.Number.Ordinal, &t.State, &t.Member, &t.CropYear, &t.BarrelCount)
	}))
	batch.Queue(scaleSelect+`WHERE s.id = $1`, b.Scale).QueryRow(optional(func(row pgx.Row) (err error) {
		p.Scale, err = scanScale(row)
		return err
	}))
	var asset assetRow
	batch.Queue(assetSelect, b.DrumTag).QueryRow(optional(func(row pgx.Row) error {
		err := row.Scan(asset.targets()...)
		if err == nil {
			p.Asset = asset.asset()
		}
		return err
	}))
	batch.Queue(placeDrum, b.DrumTag).QueryRow(optional(func(row pgx.Row) error { return row.Scan(&p.OpenBarrel) }))
	if err := q.SendBatch(ctx, batch).Close(); err != nil {
		return p, wrap(err, "read the place of a barrel")
	}
	if p.Ticket.State == "" {
		return p, domain.NotFound(p.Ticket.Name())
	}
	if p.Scale.ID == "" {
		return p, domain.NotFound(domain.Scale{ID: b.Scale}.Name())
	}
	return p, nil
}

// optional lets a statement of a batch find nothing.
func optional(scan func(pgx.Row) error) func(pgx.Row) error {
	return func(row pgx.Row) error {
		if err := scan(row); !errors.Is(err, pgx.ErrNoRows) {
			return err
		}
		return nil
	}
}

// Its own statement, so that the next one has a snapshot from after the wait for a check under way.
const lockPlace = `SELECT pg_advisory_xact_lock_shared(hashtextextended('intake scale ' || $1, 0)),
	pg_advisory_xact_lock_shared(hashtextextended('intake drum ' || $2, 0))`

// fillDrum takes the line the barrel was decided for. When ticket, scale or drum are no longer as they were read, no line is
// taken and the line's ticket is null, which fails: a failure needs no callback, and so the whole weighing is one message
// to the server.
const fillDrum = `WITH taken AS (
		UPDATE ticket SET barrel_count = barrel_count + 1, net_total = net_total + $8, version = version + 1
		WHERE id = $1 AND state = 'OPEN' AND barrel_count = $17 - 1
			AND coalesce((SELECT k.ordinal FROM scale_check k WHERE k.scale = $9 ORDER BY k.ordinal DESC LIMIT 1), 0) = $10
			AND NOT EXISTS (SELECT FROM drum_asset d WHERE d.tag = $3 AND d.retire_time IS NOT NULL)
		RETURNING id),
	filled AS (
		INSERT INTO barrel (id, drum_tag, variety, gross, tare, tare_kind, net, scale, check_ordinal, raw_indication, manual, reason,
			warnings, weigher, weigh_time, crop_year)
		VALUES ($2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $18))
	INSERT INTO ticket_line (ticket, line, barrel) VALUES ((SELECT id FROM taken), $17, $2)`

// QueueBarrel queues the putting of a barrel on its line. The arguments have plain types: for those of the domain the driver
// would look for an encoding anew in every call.
func (Store) QueueBarrel(batch *pgx.Batch, b domain.Barrel) {
	batch.Queue(lockPlace, b.Scale, b.DrumTag)
	batch.Queue(fillDrum, [16]byte(b.Ticket), [16]byte(b.ID), b.DrumTag, b.Variety, int64(b.Gross), int64(b.Tare),
		string(b.TareKind), int64(b.Net()), b.Scale, b.CheckOrdinal, b.RawIndication, b.Manual, b.Reason, b.Warnings, b.Weigher,
		b.WeighTime, b.Line, b.CropYear)
}

// BarrelFault names what the database refused about a queued barrel: domain.ErrStale when its place is not as it was read,
// ALREADY_EXISTS for an id that was used. A drum filled meanwhile is stale too: read again, it will say by which barrel.
func (Store) BarrelFault(err error, b domain.Barrel) error {
	if pg.Code(err) == notNull {
		return domain.ErrStale
	}
	exists := domain.AlreadyExists(b.Name(), "there is a barrel with the id %s already: make a new id for a new barrel", b.ID)
	return pg.Named(err, map[string]error{
		"barrel_pk": exists, "ticket_line_barrel_once": exists, "ticket_line_pk": domain.ErrStale, "barrel_drum_open": domain.ErrStale,
	})
}

// notNull is the SQLSTATE of a missing value (PostgreSQL documentation, appendix A).
const notNull = "23502"
