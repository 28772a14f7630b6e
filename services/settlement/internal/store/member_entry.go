package store

import (
	"context"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

var memberEntryColumns = `entry, place, member, kind, amount, description, authority, calculation, ` + date("entry_date") + `, ticket_number, recorder, record_time FROM member_entry`

func scanMemberEntry(row pgx.CollectableRow) (*domain.MemberEntry, error) {
	var e domain.MemberEntry
	err := row.Scan(&e.ID, &e.Place, &e.Member, &e.Kind, &e.Amount, &e.Description, &e.Authority, &e.Calculation, &e.Date, &e.Ticket, &e.Recorder, &e.Time)
	return &e, err
}

// InsertMemberEntries saves entries in order. A delivery hauled twice is a *domain.StateError.
func (Store) InsertMemberEntries(ctx context.Context, tx pgx.Tx, entries ...*domain.MemberEntry) error {
	b := &pgx.Batch{}
	for _, e := range entries {
		b.Queue(`INSERT INTO member_entry (entry, member, kind, amount, description, authority, calculation, entry_date, ticket_number, recorder, record_time)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`,
			e.ID, e.Member, int16(e.Kind), e.Amount, e.Description, e.Authority, e.Calculation, day(e.Date), e.Ticket, e.Recorder, e.Time) //nolint:gosec // one of few
	}
	return pg.Named(wrap("save the entries of a member's account", tx.SendBatch(ctx, b).Close()), map[string]error{
		"member_entry_hauled_once": &domain.StateError{Resource: "hauling", State: "CHARGED", Message: "the hauling of this delivery is charged already"},
	})
}

// ListCharges gives charges, newest first, beginning before place; 0 begins at the newest, an empty member is all.
func (Store) ListCharges(ctx context.Context, q pg.Querier, member string, before int64, limit int) ([]*domain.MemberEntry, error) {
	return collect(ctx, q, "list the charges", `SELECT `+memberEntryColumns+`
		WHERE kind <= 5 AND ($1 = '' OR member = $1) AND ($2 = 0 OR place < $2) ORDER BY place DESC LIMIT $3`, scanMemberEntry, member, before, limit)
}

// MemberEntries are a member's entries of all kinds, in order.
func (Store) MemberEntries(ctx context.Context, q pg.Querier, member string) ([]*domain.MemberEntry, error) {
	return collect(ctx, q, "read a member's entries", `SELECT `+memberEntryColumns+` WHERE member = $1 ORDER BY place`, scanMemberEntry, member)
}

// Balance is what a member is owed now; negative is what it owes.
func (Store) Balance(ctx context.Context, q pg.Querier, member string) (quantity.Money, error) {
	var sum quantity.Money
	err := q.QueryRow(ctx, `SELECT coalesce(sum(amount), 0)::bigint FROM member_movement WHERE member = $1`, member).Scan(&sum)
	return sum, wrap("sum what a member is owed", err)
}

func scanHaulingRate(row pgx.CollectableRow) (domain.HaulingRate, error) {
	var r domain.HaulingRate
	err := row.Scan(&r.Zone, &r.Effective, &r.Rate, &r.Resolution, &r.Setter, &r.Time)
	return r, err
}

// InsertHaulingRate saves a rate. A second one from the same day is a *domain.StateError.
func (Store) InsertHaulingRate(ctx context.Context, tx pgx.Tx, r domain.HaulingRate) error {
	err := exec(ctx, tx, "save the rate", `INSERT INTO hauling_rate (zone, effective_date, rate, resolution, setter, set_time) VALUES ($1, $2, $3, $4, $5, $6)`,
		r.Zone, day(r.Effective), r.Rate, r.Resolution, r.Setter, r.Time)
	return pg.Named(err, map[string]error{"hauling_rate_once": &domain.StateError{
		Resource: "hauling", State: "RATED", Message: "the zone has a rate from this day already; a new one begins on another day",
	}})
}

// HaulingRates are all rates, by zone, the latest first.
func (Store) HaulingRates(ctx context.Context, q pg.Querier) ([]domain.HaulingRate, error) {
	return collect(ctx, q, "read the rates", `SELECT zone, `+date("effective_date")+`, rate, resolution, setter, set_time FROM hauling_rate
		ORDER BY zone, effective_date DESC`, scanHaulingRate)
}

func scanHauled(row pgx.CollectableRow) (domain.Hauled, error) {
	var h domain.Hauled
	var owners []string
	var shares []int64
	err := row.Scan(&h.Barrel, &h.Member, &h.Net, &h.Date, &owners, &shares, &h.HauledBySchedule)
	for i := range owners {
		h.Owners = append(h.Owners, domain.Owner{Member: owners[i], Share: shares[i]})
	}
	return h, err
}

// TicketBarrels are the barrels of a ticket that count, with what hauling needs.
func (Store) TicketBarrels(ctx context.Context, q pg.Querier, number string) ([]domain.Hauled, error) {
	return collect(ctx, q, "read the ticket", `SELECT barrel, member, net, `+date("delivery_date")+`, owners, shares,
		EXISTS (SELECT 1 FROM payout_line l JOIN payout p USING (payout) WHERE p.ticket = b.ticket AND l.code = 'HAULING')
		FROM intake_barrel b WHERE ticket_number = $1 AND counts ORDER BY barrel`, scanHauled, number)
}

// Handled is the net weight delivered from one date through another, and what its check-off charged to members came to.
func (Store) Handled(ctx context.Context, q pg.Querier, from, through domain.Date) (weight quantity.Mass, passedOn quantity.Money, err error) {
	err = q.QueryRow(ctx, `SELECT (SELECT coalesce(sum(net), 0)::bigint FROM intake_barrel WHERE counts AND delivery_date BETWEEN $1 AND $2),
		(SELECT coalesce(-sum(l.amount), 0)::bigint FROM payout_line l JOIN payout p USING (payout)
			WHERE l.code IN ('CHECK_OFF', 'CHECKOFF', 'ASSESSMENT') AND p.delivery_date BETWEEN $1 AND $2)
		+ (SELECT coalesce(-sum(amount), 0)::bigint FROM member_entry WHERE kind = 3 AND entry_date BETWEEN $1 AND $2)`,
		day(from), day(through)).Scan(&weight, &passedOn)
	return weight, passedOn, wrap("sum what was handled", err)
}
