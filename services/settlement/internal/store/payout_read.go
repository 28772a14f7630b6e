package store

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain"
)

// day turns a date into what a binary COPY wants.
func day(d domain.Date) time.Time {
	t, err := time.Parse(time.DateOnly, string(d))
	if err != nil {
		// Dates are parsed where they enter.
		panic(fmt.Errorf("date of a barrel: %w", err))
	}
	return t
}

var payoutColumns = `payout, number, kind, member, barrel, drum_tag, variety, ticket, ticket_number, certificate, certificate_number, color_class, grade, schedule, run, share, weighing, appeal,
	` + date("delivery_date") + `, crop_year, net, payable, gross_amount, net_amount, reverses, reason, headline, price_time FROM payout`

func scanPayout(row pgx.CollectableRow) (*domain.Payout, error) {
	p := &domain.Payout{}
	b := &p.Barrel
	var schedule, run, reverses, appeal *uuid.UUID
	err := row.Scan(&p.ID, &p.Number, &p.Kind, &b.Member, &b.Barrel, &b.DrumTag, &b.Variety, &b.Ticket, &b.TicketNumber,
		&p.Certificate, &p.CertificateNumber, &p.ColorClass, &p.Grade, &schedule, &run, &p.Share, &b.Weighing, &appeal, &b.Date, &b.CropYear, &b.Net, &p.Payable, &p.Gross, &p.Net,
		&reverses, &p.Reason, &p.Headline, &p.Time)
	p.Schedule, p.Run, p.Reverses, p.Appeal = orZero(schedule), orZero(run), orZero(reverses), orZero(appeal)
	return p, err
}

func orZero(id *uuid.UUID) uuid.UUID {
	if id == nil {
		return uuid.UUID{}
	}
	return *id
}

// Payouts are the payouts of these identities with their lines, oldest first; unknown ones are left out.
func (s Store) Payouts(ctx context.Context, q pg.Querier, ids []uuid.UUID) ([]*domain.Payout, error) {
	found, err := collect(ctx, q, "read payouts", `SELECT `+payoutColumns+` WHERE payout = ANY($1) ORDER BY number`, scanPayout, ids)
	if err != nil {
		return nil, err
	}
	return found, s.fillLines(ctx, q, found)
}

// MemberPayouts are a member's payouts, newest first, beginning before number; 0 begins at the newest.
func (s Store) MemberPayouts(ctx context.Context, q pg.Querier, member string, before int64, limit int) ([]*domain.Payout, error) {
	found, err := collect(ctx, q, "list payouts", `SELECT `+payoutColumns+`
		WHERE member = $1 AND ($2 = 0 OR number < $2) ORDER BY number DESC LIMIT $3`, scanPayout, member, before, limit)
	if err != nil {
		return nil, err
	}
	return found, s.fillLines(ctx, q, found)
}

type lineOf struct {
	payout uuid.UUID
	domain.Line
}

func scanLine(row pgx.CollectableRow) (lineOf, error) {
	var l lineOf
	err := row.Scan(&l.payout, &l.Kind, &l.Code, &l.Description, &l.Quantity, &l.Rate, &l.Amount, &l.Odd, &l.Why)
	return l, err
}

func (Store) fillLines(ctx context.Context, q pg.Querier, payouts []*domain.Payout) error {
	byID, ids := make(map[uuid.UUID]*domain.Payout, len(payouts)), make([]uuid.UUID, 0, len(payouts))
	for _, p := range payouts {
		byID[p.ID], ids = p, append(ids, p.ID)
	}
	lines, err := collect(ctx, q, "read payout lines", `SELECT payout, kind, code, description, quantity, rate, amount, odd, explanation
		FROM payout_line WHERE payout = ANY($1) ORDER BY payout, line`, scanLine, ids)
	for _, l := range lines {
		p := byID[l.payout]
		p.Lines = append(p.Lines, l.Line)
	}
	return err
}
