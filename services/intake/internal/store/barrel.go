package store

import (
	"context"
	"errors"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
)

const barrelColumns = `b.id, l.ticket, l.line, t.member, b.drum_tag, b.variety, b.crop_year, b.gross, b.tare, b.tare_kind,
	b.raw_indication, b.manual, b.reason, b.scale, b.check_ordinal, b.warnings, coalesce(s.code, ''), b.weigher, b.weigh_time, b.open`

const lineSelect = `SELECT ` + barrelColumns + ` FROM ticket_line l JOIN ticket t ON t.id = l.ticket
	JOIN barrel b ON b.id = l.barrel LEFT JOIN sample s ON s.barrel = b.id WHERE l.ticket = $1 ORDER BY l.line`

// A barrel is on one ticket that was not replaced, and on any number that were.
const barrelSelect = `SELECT ` + barrelColumns + ` FROM barrel b JOIN ticket_line l ON l.barrel = b.id
	JOIN ticket t ON t.id = l.ticket AND t.state <> 'SUPERSEDED' LEFT JOIN sample s ON s.barrel = b.id WHERE b.id = $1`

func scanBarrel(row pgx.Row) (domain.Barrel, error) {
	var b domain.Barrel
	err := row.Scan(&b.ID, &b.Ticket, &b.Line, &b.Member, &b.DrumTag, &b.Variety, &b.CropYear, &b.Gross, &b.Tare, &b.TareKind,
		&b.RawIndication, &b.Manual, &b.Reason, &b.Scale, &b.CheckOrdinal, &b.Warnings, &b.Sample, &b.Weigher, &b.WeighTime, &b.Open)
	return b, err
}

// Barrel reads a barrel as it stands on its live ticket. It fails with NOT_FOUND.
func (Store) Barrel(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.Barrel, error) {
	b, err := scanBarrel(q.QueryRow(ctx, barrelSelect, id))
	return b, orNotFound(err, "read barrel", domain.Barrel{ID: id}.Name())
}

const takeLine = `UPDATE ticket SET barrel_count = barrel_count + 1, net_total = net_total + $2, version = version + 1
	WHERE id = $1 AND state = 'OPEN' RETURNING site, year, ordinal, member, crop_year, barrel_count, version`

// One statement for both rows: the reference from line to barrel is checked at its end.
const insertBarrel = `WITH place AS (SELECT barrel_count AS line, crop_year FROM ticket WHERE id = $1 AND state = 'OPEN'
			AND ($16::text[] IS NULL OR NOT EXISTS (SELECT FROM drum_asset d WHERE d.tag = $3
				AND (d.retire_time IS NOT NULL OR d.container <> ALL ($16) OR abs(d.weighed_tare - $6) > $17)))), filled AS (
		INSERT INTO barrel (id, drum_tag, variety, crop_year, gross, tare, tare_kind, net, scale, check_ordinal, raw_indication,
			manual, reason, warnings, weigher, weigh_time)
		SELECT $2, $3, $4, crop_year, $5, $6, $7, $8, $9,
			coalesce((SELECT k.ordinal FROM scale_check k WHERE k.scale = $9 ORDER BY k.ordinal DESC LIMIT 1), 0),
			$10, $11, $12, $13, $14, $15 FROM place)
	INSERT INTO ticket_line (ticket, line, barrel) SELECT $1, line, $2 FROM place`

// FillDrum puts a barrel on the next line of its ticket and reads in the same round trip what decides whether it may stay:
// the caller looks at the place and rolls back if a rule forbids it. The ticket is locked and the scale cannot be checked
// until the transaction ends. Where the ticket is not open nothing was inserted and the place has the zero State. Neither is
// a barrel inserted when more has to be known of the drum; then the line is taken, and FillKnownDrum puts the barrel on it.
//
// Errors: ALREADY_EXISTS for an id that was used, DRUM_IN_USE without the name of the barrel in the drum: a failed
// transaction cannot look it up.
func (Store) FillDrum(ctx context.Context, q pg.Querier, b domain.Barrel, unremarkable []string, policy quantity.Mass) (domain.Place, error) {
	var p domain.Place
	batch := &pgx.Batch{}
	ticket := [16]byte(b.Ticket)
	batch.Queue(takeLine, ticket, int64(b.Net())).QueryRow(optional(func(row pgx.Row) error {
		t := domain.Ticket{ID: b.Ticket, State: domain.Open}
		err := row.Scan(&t.Number.Site, &t.Number.Year, &t.Number.Ordinal, &t.Member, &t.CropYear, &t.BarrelCount, &t.Version)
		if err == nil {
			p.Ticket = t
		}
		return err
	}))
	batch.Queue(`SELECT pg_advisory_xact_lock_shared(`+scaleLock+`), pg_advisory_xact_lock_shared(hashtextextended('intake drum ' || $2, 0))`,
		b.Scale, b.DrumTag)
	// Its own statement after the wait, so that it sees a check that was just recorded.
	batch.Queue(scaleSelect+`WHERE s.id = $1`, b.Scale).QueryRow(optional(func(row pgx.Row) (err error) {
		p.Scale, err = scanScale(row)
		return err
	}))
	batch.Queue(insertBarrel, barrelArguments(b, unremarkable, policy)...).Exec(func(tag pgconn.CommandTag) error {
		p.Filled = tag.RowsAffected() == 1
		return nil
	})
	return p, wrap(barrelFault(q.SendBatch(ctx, batch).Close(), b), "fill drum")
}

// barrelArguments has plain types: for those of the domain the driver would look for an encoding anew in every call.
func barrelArguments(b domain.Barrel, unremarkable []string, policy quantity.Mass) []any {
	return []any{
		[16]byte(b.Ticket), [16]byte(b.ID), b.DrumTag, b.Variety, int64(b.Gross), int64(b.Tare), string(b.TareKind), int64(b.Net()),
		b.Scale, b.RawIndication, b.Manual, b.Reason, b.Warnings, b.Weigher, b.WeighTime, unremarkable, int64(policy),
	}
}

// FillKnownDrum puts a barrel on the line FillDrum took for it. Errors as of FillDrum.
func (Store) FillKnownDrum(ctx context.Context, q pg.Querier, b domain.Barrel) error {
	_, err := q.Exec(ctx, insertBarrel, barrelArguments(b, nil, 0)...)
	return wrap(barrelFault(err, b), "fill known drum")
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

// barrelFault names what the database refused.
func barrelFault(err error, b domain.Barrel) error {
	exists := domain.AlreadyExists(b.Name(), "there is a barrel with the id %s already: make a new id for a new barrel", b.ID)
	return pg.Named(err, map[string]error{
		"barrel_pk": exists, "ticket_line_barrel_once": exists, "barrel_drum_open": domain.DrumInUse(b.DrumTag, ""),
	})
}

// TouchBarrelsTicket locks the live ticket of a barrel and gives it a new version if it is open; either way it reads both.
func (st Store) TouchBarrelsTicket(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.Barrel, domain.Ticket, error) {
	_, err := q.Exec(ctx, `UPDATE ticket SET version = version + 1 WHERE state = 'OPEN' AND id IN
		(SELECT l.ticket FROM ticket_line l WHERE l.barrel = $1)`, id)
	if err != nil {
		return domain.Barrel{}, domain.Ticket{}, wrap(err, "touch the ticket of a barrel")
	}
	b, err := st.Barrel(ctx, q, id)
	if err != nil {
		return domain.Barrel{}, domain.Ticket{}, err
	}
	t, err := st.TicketHead(ctx, q, b.Ticket)
	return b, t, err
}

// InsertSample reports false when the code was given to another sample before, which chance makes possible.
func (Store) InsertSample(ctx context.Context, q pg.Querier, b domain.Barrel, drawer string) (bool, error) {
	tag, err := q.Exec(ctx, `INSERT INTO sample (code, barrel, drawer, draw_time) VALUES ($1, $2, $3, $4)
		ON CONFLICT ON CONSTRAINT sample_pk DO NOTHING`, b.Sample, b.ID, drawer, b.DrawTime)
	return tag.RowsAffected() == 1, wrap(err, "insert sample")
}
