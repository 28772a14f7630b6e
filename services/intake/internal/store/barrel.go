package store

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/pg"
)

const barrelColumns = `b.id, l.ticket, l.line, t.member, b.drum_tag, b.variety, b.crop_year, b.gross, b.tare, b.tare_kind,
	b.raw_indication, b.manual, b.reason, b.scale, b.check_ordinal, b.warnings, coalesce(s.code, ''), b.weigher, b.weigh_time, b.record_time, b.open, b.part,
	b.paper_number, coalesce(p.confirmer, ''), p.confirm_time, b.container, u.capture, c.portions, c.seals, c.dates`

// barrelParts joins what is kept beside a barrel.
const barrelParts = ` LEFT JOIN sample s ON s.barrel = b.id LEFT JOIN paper_confirmation p ON p.barrel = b.id
	LEFT JOIN indication_use u ON u.barrel = b.id AND coalesce(u.reweigh, 0) = 0
	LEFT JOIN LATERAL (SELECT array_agg(e.portion ORDER BY e.portion) AS portions, array_agg(e.seal ORDER BY e.portion) AS seals,
		array_agg(e.expire_date::text ORDER BY e.portion) AS dates FROM custody_event e
		WHERE e.sample = s.code AND e.ordinal = 1 AND e.event_time = s.draw_time) c ON true `

const lineSelect = `SELECT ` + barrelColumns + ` FROM ticket_line l JOIN ticket t ON t.id = l.ticket
	JOIN barrel b ON b.id = l.barrel` + barrelParts + `WHERE l.ticket = $1 ORDER BY l.line`

// A barrel is on one ticket that was not replaced, and on any number that were.
const barrelSelect = `SELECT ` + barrelColumns + ` FROM barrel b JOIN ticket_line l ON l.barrel = b.id
	JOIN ticket t ON t.id = l.ticket AND t.state <> 'SUPERSEDED'` + barrelParts + `WHERE b.id = $1`

// scanBarrel reads the columns of a barrel and whatever more was selected after them.
func scanBarrel(row pgx.Row, more ...any) (domain.Barrel, error) {
	var b domain.Barrel
	var confirmed *time.Time
	var capture *uuid.UUID
	var portions, seals, dates []string
	err := row.Scan(append([]any{
		&b.ID, &b.Ticket, &b.Line, &b.Member, &b.DrumTag, &b.Variety, &b.CropYear, &b.Gross, &b.Tare, &b.TareKind,
		&b.RawIndication, &b.Manual, &b.Reason, &b.Scale, &b.CheckOrdinal, &b.Warnings, &b.Sample, &b.Weigher, &b.WeighTime, &b.RecordTime, &b.Open, &b.Part,
		&b.Paper, &b.PaperConfirmer, &confirmed, &b.Container, &capture, &portions, &seals, &dates,
	}, more...)...)
	b.PaperTime, b.Capture = orZero(confirmed), orZero(capture)
	for i := range portions {
		b.Seals = append(b.Seals, domain.Seal{Letter: portions[i], Number: seals[i], Expires: dates[i]})
	}
	return b, err
}

// Barrel reads a barrel as it stands on its live ticket. It fails with NOT_FOUND.
func (Store) Barrel(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.Barrel, error) {
	b, err := scanBarrel(q.QueryRow(ctx, barrelSelect, id))
	return b, orNotFound(err, "read barrel", domain.Barrel{ID: id}.Name())
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

// InsertPaperConfirmation stores who compared a weight with the paper book.
func (Store) InsertPaperConfirmation(ctx context.Context, q pg.Querier, b domain.Barrel) error {
	_, err := q.Exec(ctx, `INSERT INTO paper_confirmation (barrel, confirmer, confirm_time) VALUES ($1, $2, $3)`,
		b.ID, b.PaperConfirmer, b.PaperTime)
	return wrap(err, "insert paper confirmation")
}

// TypedWeights lists the barrels of a span whose weight was typed by hand, oldest first.
func (Store) TypedWeights(ctx context.Context, q pg.Querier, span domain.Span, after domain.PageKey, limit int) ([]domain.Barrel, error) {
	rows, err := q.Query(ctx, `SELECT `+barrelColumns+` FROM barrel b JOIN ticket_line l ON l.barrel = b.id
		JOIN ticket t ON t.id = l.ticket AND t.state <> 'SUPERSEDED'`+barrelParts+`WHERE b.weigh_time >= $1 AND b.weigh_time < $2 AND b.manual AND ($3::timestamptz IS NULL OR (b.weigh_time, b.id) > ($3, $4))
		ORDER BY b.weigh_time, b.id LIMIT $5`, span.From, span.Until, nullTime(after.Time), after.ID, limit)
	if err != nil {
		return nil, wrap(err, "list typed weights")
	}
	found, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (domain.Barrel, error) { return scanBarrel(row) })
	return found, wrap(err, "list typed weights")
}
