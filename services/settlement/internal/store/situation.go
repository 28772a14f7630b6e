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
	b.owners, b.shares, w.reweigh, w.correction, w.words, t.correction, t.words, d.words, e.words,
	c.certificate, c.number, c.grade, c.color_class, c.moisture, c.readings, c.reason, h.codes,
	a.payouts, p.weighing, p.ticket, p.ticket_number, p.certificate, p.certificate_number, p.schedule, f.payouts, fp.run, g.payouts
	FROM intake_barrel b
	LEFT JOIN intake_reweigh w ON w.barrel = b.barrel LEFT JOIN intake_tare t ON t.barrel = b.barrel
	LEFT JOIN LATERAL (SELECT min(words) AS words FROM intake_doubt WHERE barrel = b.barrel AND open) d ON true
	LEFT JOIN LATERAL (SELECT g.* FROM intake_sample s JOIN grading_certificate g USING (sample)
		WHERE s.barrel = b.barrel AND g.superseded_by IS NULL ORDER BY g.issue_time DESC, g.certificate DESC LIMIT 1) c ON true
	LEFT JOIN LATERAL (SELECT min(words) AS words FROM grading_doubt WHERE certificate = c.certificate AND open) e ON true
	LEFT JOIN LATERAL (SELECT array_agg(code ORDER BY place_time, hold) AS codes FROM inventory_hold
		WHERE barrel = b.barrel AND NOT released) h ON true
	LEFT JOIN LATERAL (SELECT array_agg(payout ORDER BY member) AS payouts FROM standing_advance WHERE barrel = b.barrel) a ON true
	LEFT JOIN payout p ON p.payout = a.payouts[1]
	LEFT JOIN LATERAL (SELECT array_agg(payout ORDER BY member) AS payouts FROM standing_final WHERE barrel = b.barrel) f ON true
	LEFT JOIN payout fp ON fp.payout = f.payouts[1]
	LEFT JOIN LATERAL (SELECT array_agg(payout ORDER BY member, payout) AS payouts FROM standing_progress WHERE barrel = b.barrel) g ON true`

func scanSituation(row pgx.CollectableRow) (domain.Situation, error) {
	var s domain.Situation
	var certificate, ticket, onCertificate, schedule, run *uuid.UUID
	var number, grade, color, reason, weighing, ticketNumber, onNumber, reweigh, reweighWords, tareWords, scaleDoubt, labDoubt *string
	var water *quantity.Percent
	var reweighed, tare *quantity.Mass
	var readings, owners []string
	var shares []int64
	var advances []uuid.UUID
	b := &s.Barrel
	err := row.Scan(&b.Barrel, &b.Ticket, &b.TicketNumber, &b.Member, &b.DrumTag, &b.Variety, &b.Net, &b.CropYear, &b.Date, &s.Counts,
		&owners, &shares, &reweigh, &reweighed, &reweighWords, &tare, &tareWords, &scaleDoubt, &labDoubt,
		&certificate, &number, &grade, &color, &water, &readings, &reason, &s.Holds,
		&advances, &weighing, &ticket, &ticketNumber, &onCertificate, &onNumber, &schedule, &s.Finals, &run, &s.Progress)
	if err != nil {
		return s, err
	}
	for i := range owners {
		b.Owners = append(b.Owners, domain.Owner{Member: owners[i], Share: shares[i]})
	}
	if reweigh != nil {
		b.Correct(domain.Correction{Source: *reweigh, Net: *reweighed, Words: *reweighWords})
	}
	if tare != nil {
		b.Correct(domain.Correction{Source: "tare", Net: *tare, Words: *tareWords})
	}
	for _, words := range []*string{labDoubt, scaleDoubt} {
		if words != nil {
			s.Doubt = *words
		}
	}
	s.Run = orZero(run)
	if certificate != nil {
		s.Certificate = &domain.Certificate{ID: *certificate, Number: *number, Grade: *grade, ColorClass: *color, Water: *water, Readings: readings}
		s.Supersession = *reason
	}
	if len(advances) > 0 {
		s.Standing = &domain.Standing{
			Payouts: advances, Weighing: *weighing, Ticket: *ticket, TicketNumber: *ticketNumber,
			Certificate: *onCertificate, CertificateNumber: *onNumber, Schedule: *schedule,
		}
	}
	return s, nil
}

// unearned is true of a barrel without an advance, ownedBy of one the member of a parameter has a part in.
const unearned = `NOT EXISTS (SELECT 1 FROM standing_advance x WHERE x.barrel = b.barrel)`

func ownedBy(parameter string) string {
	return `(b.member = ` + parameter + ` OR b.owners <> '{}' AND b.owners @> ARRAY[` + parameter + `::text])`
}

// Situations is all that is known of these barrels, by identity. Barrels on no closed ticket yet are left out.
func (Store) Situations(ctx context.Context, q pg.Querier, barrels []uuid.UUID) ([]domain.Situation, error) {
	return collect(ctx, q, "read what is known of the barrels", `SELECT `+situationColumns+` WHERE b.barrel = ANY($1) ORDER BY b.barrel`,
		scanSituation, barrels)
}

// Waiting is what is known of the certified barrels of a crop year that have earned nothing yet, oldest delivery first.
func (Store) Waiting(ctx context.Context, q pg.Querier, cropYear int, after domain.AgeKey, limit int) ([]domain.Situation, error) {
	return collect(ctx, q, "read the barrels that wait", `SELECT `+situationColumns+`
		WHERE b.crop_year = $1 AND b.counts AND `+unearned+` AND c.certificate IS NOT NULL
			AND (b.delivery_date, b.barrel) > ($2::date, $3) ORDER BY b.delivery_date, b.barrel LIMIT $4`,
		scanSituation, cropYear, from(after), after.Barrel, limit)
}

// Unpriced gives the barrels that count and have earned nothing yet, oldest delivery first, one member's or everybody's.
func (Store) Unpriced(ctx context.Context, q pg.Querier, member string, after domain.AgeKey, limit int) ([]domain.Situation, error) {
	return collect(ctx, q, "list the barrels that wait", `SELECT `+situationColumns+`
		WHERE b.counts AND `+unearned+` AND ($1 = '' OR `+ownedBy("$1")+`) AND (b.delivery_date, b.barrel) > ($2::date, $3)
		ORDER BY b.delivery_date, b.barrel LIMIT $4`, scanSituation, member, from(after), after.Barrel, limit)
}

func from(after domain.AgeKey) time.Time {
	if after.Date == "" {
		return time.Time{}
	}
	return day(after.Date)
}
