package store

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
)

// One statement: several would cost more in messages than in reading. A weighing of now has no time, and the check before it
// is the newest one.
const placeSelect = `SELECT t.site, t.year, t.ordinal, t.state, t.member, t.crop_year, t.barrel_count,
		s.division, s.capacity, s.accuracy_class, n.ordinal, c.ordinal, c.passed, c.check_date::text, f.passed, f.check_date::text,
		d.container, d.retire_time, d.retire_reason, d.weighed_tare, b.id
	FROM (VALUES ($1::uuid, $2::text, $3::text, $4::timestamptz)) AS asked (ticket, scale, drum, at)
	LEFT JOIN ticket t ON t.id = asked.ticket
	LEFT JOIN scale s ON s.id = asked.scale
	LEFT JOIN LATERAL (SELECT k.ordinal FROM scale_check k WHERE k.scale = asked.scale ORDER BY k.ordinal DESC LIMIT 1) n ON true
	LEFT JOIN LATERAL (SELECT k.ordinal, k.passed, k.check_date FROM scale_check k
		WHERE k.scale = asked.scale AND (asked.at IS NULL OR k.check_time <= asked.at) ORDER BY k.ordinal DESC LIMIT 1) c ON true
	LEFT JOIN scale_check f ON asked.at IS NOT NULL AND f.scale = asked.scale AND f.ordinal = coalesce(c.ordinal, 0) + 1
	LEFT JOIN drum_asset d ON d.tag = asked.drum
	LEFT JOIN barrel b ON b.drum_tag = asked.drum AND b.open`

// placeRow is all of it, where each part may be missing.
type placeRow struct {
	site, state, member, class, beforeDate, afterDate, container, retireReason *string
	year, cropYear, barrels                                                    *int
	number, division, capacity, newest, before, tare                           *int64
	beforePassed, afterPassed                                                  *bool
	retired                                                                    *time.Time
	open                                                                       *uuid.UUID
}

// Place reads what decides about a weighing; its WeighTime is zero for now. It fails with NOT_FOUND for the ticket or the
// scale. Of the scale, its checks and the drum it reads only what the decision needs.
func (Store) Place(ctx context.Context, q pg.Querier, b domain.Barrel) (domain.Place, error) {
	var r placeRow
	err := q.QueryRow(ctx, placeSelect, [16]byte(b.Ticket), b.Scale, b.DrumTag, nullTime(b.WeighTime)).Scan(
		&r.site, &r.year, &r.number, &r.state, &r.member, &r.cropYear, &r.barrels, &r.division, &r.capacity, &r.class, &r.newest,
		&r.before, &r.beforePassed, &r.beforeDate, &r.afterPassed, &r.afterDate, &r.container, &r.retired, &r.retireReason, &r.tare,
		&r.open)
	switch {
	case err != nil:
		return domain.Place{}, wrap(err, "read the place of a barrel")
	case r.state == nil:
		return domain.Place{}, domain.NotFound(domain.Ticket{ID: b.Ticket}.Name())
	case r.division == nil:
		return domain.Place{}, domain.NotFound(domain.Scale{ID: b.Scale}.Name())
	default:
		return r.place(b), nil
	}
}

func (r placeRow) place(b domain.Barrel) domain.Place {
	p := domain.Place{
		Ticket: domain.Ticket{
			ID: b.Ticket, Number: domain.Number{Site: *r.site, Year: *r.year, Ordinal: *r.number}, State: domain.State(*r.state),
			Member: *r.member, CropYear: *r.cropYear, BarrelCount: *r.barrels,
		},
		Scale: domain.Scale{
			ID: b.Scale, Division: quantity.Mass(*r.division), Capacity: quantity.Mass(*r.capacity), Class: domain.Class(*r.class),
		},
		Asset: domain.Asset{
			Tag: b.DrumTag, Container: domain.Container(orZero(r.container)), RetireTime: orZero(r.retired),
			RetireReason: orZero(r.retireReason), WeighedTare: quantity.Mass(orZero(r.tare)),
		},
		KnownChecks: orZero(r.newest), OpenBarrel: orZero(r.open),
	}
	if r.before != nil {
		p.Before = &domain.Check{Scale: b.Scale, Ordinal: *r.before, Passed: *r.beforePassed, Date: *r.beforeDate}
	}
	if r.afterPassed != nil {
		p.After = &domain.Check{Scale: b.Scale, Ordinal: p.CheckOrdinal() + 1, Passed: *r.afterPassed, Date: *r.afterDate}
	}
	return p
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
			AND coalesce((SELECT k.ordinal FROM scale_check k WHERE k.scale = $9 ORDER BY k.ordinal DESC LIMIT 1), 0) = $19
			AND NOT EXISTS (SELECT FROM drum_asset d WHERE d.tag = $3 AND d.retire_time IS NOT NULL)
		RETURNING id),
	filled AS (
		INSERT INTO barrel (id, drum_tag, variety, gross, tare, tare_kind, net, scale, check_ordinal, raw_indication, manual, reason,
			warnings, weigher, weigh_time, crop_year, record_time, part, paper_number, container)
		VALUES ($2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $18, $20, $21, $22, $23))
	INSERT INTO ticket_line (ticket, line, barrel) VALUES ((SELECT id FROM taken), $17, $2)`

// QueueBarrel queues the putting of a barrel on its line. The arguments have plain types: for those of the domain the driver
// would look for an encoding anew in every call.
func (Store) QueueBarrel(batch *pgx.Batch, b domain.Barrel) {
	batch.Queue(lockPlace, b.Scale, b.DrumTag)
	batch.Queue(fillDrum, [16]byte(b.Ticket), [16]byte(b.ID), b.DrumTag, b.Variety, int64(b.Gross), int64(b.Tare),
		string(b.TareKind), int64(b.Net()), b.Scale, b.CheckOrdinal, b.RawIndication, b.Manual, b.Reason, b.Warnings, b.Weigher,
		b.WeighTime, b.Line, b.CropYear, b.KnownChecks, b.RecordTime, b.Part, b.Paper, string(b.Container))
	if b.Capture != uuid.Nil {
		batch.Queue(useCapture, [16]byte(b.Capture), [16]byte(b.ID), nil)
	}
}

// BarrelFault names what the database refused about a queued barrel: domain.ErrStale when its place is not as it was read,
// ALREADY_EXISTS for an id that was used. A drum filled meanwhile is stale too: read again, it will say by which barrel.
func (Store) BarrelFault(err error, b domain.Barrel) error {
	if pg.Code(err) == notNull {
		return domain.ErrStale
	}
	exists := domain.AlreadyExists(b.Name(), "there is a barrel with this id already: make a new id for a new barrel")
	return pg.Named(err, map[string]error{
		"barrel_paper_once": domain.AlreadyExists("paperWeights/"+b.Paper, "line %s of the paper book was entered already: read the number "+
			"again", b.Paper),
		"indication_use_pk": domain.Capture{ID: b.Capture, Scale: b.Scale}.Used(),
		"barrel_pk":         exists, "ticket_line_barrel_once": exists, "ticket_line_pk": domain.ErrStale, "barrel_drum_open": domain.ErrStale,
	})
}

// notNull is the SQLSTATE of a missing value (PostgreSQL documentation, appendix A).
const notNull = "23502"
