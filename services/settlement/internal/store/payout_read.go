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

var payoutColumns = `payout, number, kind, member, barrel, drum_tag, variety, ticket, ticket_number, certificate, certificate_number, color_class, grade, schedule, run, share, weighing, appeal, progress,
	` + date("delivery_date") + `, crop_year, net, payable, gross_amount, net_amount, reverses, reason, headline, price_time FROM payout`

// payoutScan is a payout while it is read.
type payoutScan struct {
	payout                                    *domain.Payout
	schedule, run, reverses, appeal, progress *uuid.UUID
}

// into are where the payoutColumns go.
func (s *payoutScan) into() []any {
	p := s.payout
	b := &p.Barrel
	return []any{
		&p.ID, &p.Number, &p.Kind, &b.Member, &b.Barrel, &b.DrumTag, &b.Variety, &b.Ticket, &b.TicketNumber,
		&p.Certificate, &p.CertificateNumber, &p.ColorClass, &p.Grade, &s.schedule, &s.run, &p.Share, &b.Weighing, &s.appeal, &s.progress, &b.Date, &b.CropYear, &b.Net, &p.Payable, &p.Gross, &p.Net,
		&s.reverses, &p.Reason, &p.Headline, &p.Time,
	}
}

func (s *payoutScan) done() *domain.Payout {
	s.payout.Schedule, s.payout.Run, s.payout.Reverses, s.payout.Appeal = orZero(s.schedule), orZero(s.run), orZero(s.reverses), orZero(s.appeal)
	s.payout.Progress = orZero(s.progress)
	return s.payout
}

func scanPayout(row pgx.CollectableRow) (*domain.Payout, error) {
	s := payoutScan{payout: &domain.Payout{}}
	err := row.Scan(s.into()...)
	return s.done(), err
}

// Payout is one payout with its lines, or nil. It is what members look at most: one statement by two keys, without a
// transaction. Every payout has a line.
func (Store) Payout(ctx context.Context, q pg.Querier, id uuid.UUID) (*domain.Payout, error) {
	rows, err := q.Query(ctx, `SELECT p.*, l.kind, l.code, l.description, l.quantity, l.rate, l.amount, l.odd, l.explanation
		FROM (SELECT `+payoutColumns+` WHERE payout = $1) p JOIN payout_line l USING (payout) ORDER BY l.line`, id)
	if err != nil {
		return nil, fmt.Errorf("read a payout: %w", err)
	}
	s := payoutScan{payout: &domain.Payout{}}
	var l domain.Line
	into := append(s.into(), &l.Kind, &l.Code, &l.Description, &l.Quantity, &l.Rate, &l.Amount, &l.Odd, &l.Why)
	if _, err := pgx.ForEachRow(rows, into, func() error {
		s.payout.Lines = append(s.payout.Lines, l)
		l = domain.Line{}
		return nil
	}); err != nil {
		return nil, fmt.Errorf("read a payout: %w", err)
	}
	if len(s.payout.Lines) == 0 {
		return nil, nil
	}
	return s.done(), nil
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
