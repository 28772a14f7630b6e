package store

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// The certificate of a barrel is the newest that was not replaced, over all samples drawn from it.
var situationColumns = `b.barrel, b.ticket, b.ticket_number, b.member, b.drum_tag, b.variety, b.net, b.crop_year, ` + date("b.delivery_date") + `, b.counts,
	c.certificate, c.number, c.grade, c.color_class, c.moisture, c.readings, c.reason, h.codes,
	p.payout, p.ticket, p.ticket_number, p.certificate, p.certificate_number, p.schedule, f.payout, fp.run
	FROM intake_barrel b
	LEFT JOIN LATERAL (SELECT g.* FROM intake_sample s JOIN grading_certificate g USING (sample)
		WHERE s.barrel = b.barrel AND g.superseded_by IS NULL ORDER BY g.issue_time DESC, g.certificate DESC LIMIT 1) c ON true
	LEFT JOIN LATERAL (SELECT array_agg(code ORDER BY place_time, hold) AS codes FROM inventory_hold
		WHERE barrel = b.barrel AND NOT released) h ON true
	LEFT JOIN standing_advance a ON a.barrel = b.barrel LEFT JOIN payout p ON p.payout = a.payout
	LEFT JOIN standing_final f ON f.barrel = b.barrel LEFT JOIN payout fp ON fp.payout = f.payout`

func scanSituation(row pgx.CollectableRow) (domain.Situation, error) {
	var s domain.Situation
	var certificate, payout, ticket, onCertificate, schedule, final, run *uuid.UUID
	var number, grade, color, reason, ticketNumber, onNumber *string
	var water *quantity.Percent
	var readings []string
	b := &s.Barrel
	err := row.Scan(&b.Barrel, &b.Ticket, &b.TicketNumber, &b.Member, &b.DrumTag, &b.Variety, &b.Net, &b.CropYear, &b.Date, &s.Counts,
		&certificate, &number, &grade, &color, &water, &readings, &reason, &s.Holds,
		&payout, &ticket, &ticketNumber, &onCertificate, &onNumber, &schedule, &final, &run)
	if err != nil {
		return s, err
	}
	s.Final, s.Run = orZero(final), orZero(run)
	if certificate != nil {
		s.Certificate = &domain.Certificate{ID: *certificate, Number: *number, Grade: *grade, ColorClass: *color, Water: *water, Readings: readings}
		s.Supersession = *reason
	}
	if payout != nil {
		s.Standing = &domain.Standing{
			Payout: *payout, Ticket: *ticket, TicketNumber: *ticketNumber,
			Certificate: *onCertificate, CertificateNumber: *onNumber, Schedule: *schedule,
		}
	}
	return s, nil
}

// Situations is all that is known of these barrels, by identity. Barrels on no closed ticket yet are left out.
func (Store) Situations(ctx context.Context, q pg.Querier, barrels []uuid.UUID) ([]domain.Situation, error) {
	return collect(ctx, q, "read what is known of the barrels", `SELECT `+situationColumns+` WHERE b.barrel = ANY($1) ORDER BY b.barrel`,
		scanSituation, barrels)
}

// Waiting is what is known of the certified barrels of a crop year that have earned nothing yet, oldest delivery first.
func (Store) Waiting(ctx context.Context, q pg.Querier, cropYear int, after domain.AgeKey, limit int) ([]domain.Situation, error) {
	return collect(ctx, q, "read the barrels that wait", `SELECT `+situationColumns+`
		WHERE b.crop_year = $1 AND b.counts AND a.barrel IS NULL AND c.certificate IS NOT NULL
			AND (b.delivery_date, b.barrel) > ($2::date, $3) ORDER BY b.delivery_date, b.barrel LIMIT $4`,
		scanSituation, cropYear, from(after), after.Barrel, limit)
}

// Unpriced gives the barrels that count and have earned nothing yet, oldest delivery first, one member's or everybody's.
func (Store) Unpriced(ctx context.Context, q pg.Querier, member string, after domain.AgeKey, limit int) ([]domain.Situation, error) {
	return collect(ctx, q, "list the barrels that wait", `SELECT `+situationColumns+`
		WHERE b.counts AND a.barrel IS NULL AND ($1 = '' OR b.member = $1) AND (b.delivery_date, b.barrel) > ($2::date, $3)
		ORDER BY b.delivery_date, b.barrel LIMIT $4`, scanSituation, member, from(after), after.Barrel, limit)
}

func from(after domain.AgeKey) time.Time {
	if after.Date == "" {
		return time.Time{}
	}
	return day(after.Date)
}
