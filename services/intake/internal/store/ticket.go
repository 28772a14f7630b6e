package store

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/pg"
)

// NextOrdinal gives the next ticket number of a site and year. The counter stays locked until the transaction ends.
func (Store) NextOrdinal(ctx context.Context, q pg.Querier, site string, year int) (int64, error) {
	var ordinal int64
	err := q.QueryRow(ctx, `INSERT INTO ticket_counter (site, year, last) VALUES ($1, $2, 1)
		ON CONFLICT (site, year) DO UPDATE SET last = ticket_counter.last + 1 RETURNING last`, site, year).Scan(&ordinal)
	return ordinal, wrap(err, "take the next ticket number")
}

// InsertTicket stores the head of a ticket with its owners. It fails with ALREADY_EXISTS for an id that was used.
func (Store) InsertTicket(ctx context.Context, q pg.Querier, t domain.Ticket) error {
	var supersedes *uuid.UUID
	if t.Supersedes != uuid.Nil {
		supersedes = &t.Supersedes
	}
	claims, certificates := make([]string, 0, len(t.Claims)), make([]string, 0, len(t.Claims))
	for _, c := range t.Claims {
		claims, certificates = append(claims, c.Text), append(certificates, c.Certificate)
	}
	_, err := q.Exec(ctx, `INSERT INTO ticket (id, site, year, ordinal, member, member_display_name, crop_year, hauler,
			harvest_declared, opener, open_time, delivery_date, supersedes, state, version, barrel_count, net_total, close_time, record_time,
			vehicle, yard_region, claims, claim_certificates, remarks)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20, $21, $22, $23, $24)`,
		t.ID, t.Number.Site, t.Number.Year, t.Number.Ordinal, t.Member, t.MemberName, t.CropYear, t.Hauler, t.HarvestDeclared,
		t.Weigher, t.OpenTime, t.DeliveryDate, supersedes, t.State, t.Version, t.BarrelCount, t.NetTotal, nullTime(t.CloseTime),
		t.RecordTime, t.Vehicle, t.YardRegion, claims, certificates, t.Remarks)
	if err != nil {
		return wrap(pg.Named(err, map[string]error{
			"ticket_pk": domain.AlreadyExists(t.Name(), "there is a ticket with this id already: make a new id for a new ticket"),
		}), "insert ticket")
	}
	if err := insertTicketOwners(ctx, q, t); err != nil {
		return err
	}
	return sign(ctx, q, t)
}

// sign stores who signed for a delivery, if anybody did.
func sign(ctx context.Context, q pg.Querier, t domain.Ticket) error {
	if t.Driver == "" {
		return nil
	}
	_, err := q.Exec(ctx, `INSERT INTO ticket_signature (ticket, driver) VALUES ($1, $2)`, t.ID, t.Driver)
	return wrap(err, "insert the signature of a ticket")
}

// TicketHead reads a ticket without its barrels. It fails with NOT_FOUND.
func (Store) TicketHead(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.Ticket, error) {
	t, err := scanTicket(q.QueryRow(ctx, ticketSelect+`WHERE t.id = $1`, id))
	return t, orNotFound(err, "read ticket", domain.Ticket{ID: id}.Name())
}

// Ticket reads a ticket with its barrels. It fails with NOT_FOUND.
func (st Store) Ticket(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.Ticket, error) {
	return st.ticket(ctx, q, id, "")
}

// LockTicket is Ticket for a transaction that will change it.
func (st Store) LockTicket(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.Ticket, error) {
	return st.ticket(ctx, q, id, " FOR UPDATE OF t")
}

func (st Store) ticket(ctx context.Context, q pg.Querier, id uuid.UUID, lock string) (domain.Ticket, error) {
	var t domain.Ticket
	b := &pgx.Batch{}
	b.Queue(ticketSelect+`WHERE t.id = $1`+lock, id).QueryRow(func(row pgx.Row) (err error) {
		t, err = scanTicket(row)
		return err
	})
	// A later statement of the batch sees what was committed while the first one waited for the lock.
	b.Queue(lineSelect, id).Query(func(rows pgx.Rows) (err error) {
		t.Barrels, err = pgx.CollectRows(rows, func(row pgx.CollectableRow) (domain.Barrel, error) { return scanBarrel(row) })
		return err
	})
	if err := q.SendBatch(ctx, b).Close(); err != nil {
		return domain.Ticket{}, orNotFound(err, "read ticket", domain.Ticket{ID: id}.Name())
	}
	return t, wrap(t.Check(), "read ticket")
}

// Tickets lists heads. Each filter has an index that ends in the number.
func (Store) Tickets(ctx context.Context, q pg.Querier, f domain.TicketFilter) ([]domain.Ticket, error) {
	where, args := "WHERE true", []any{f.Limit}
	and := func(condition string, values ...any) {
		for _, v := range values {
			args = append(args, v)
			condition = replaceFirst(condition, len(args))
		}
		where += " AND " + condition
	}
	if f.Member != "" {
		and("t.id IN (SELECT id FROM ticket WHERE member = ? UNION ALL SELECT ticket FROM ticket_owner WHERE member = ?)", f.Member, f.Member)
	}
	if f.State != "" {
		and("t.state = ?", f.State)
	}
	if f.Before != (domain.Number{}) {
		and("(t.year, t.ordinal, t.site) < (?, ?, ?)", f.Before.Year, f.Before.Ordinal, f.Before.Site)
	}
	rows, err := q.Query(ctx, ticketSelect+where+` ORDER BY t.year DESC, t.ordinal DESC, t.site DESC LIMIT $1`, args...)
	if err != nil {
		return nil, wrap(err, "list tickets")
	}
	tickets, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (domain.Ticket, error) { return scanTicket(row) })
	return tickets, wrap(err, "list tickets")
}

// EndTicket moves a locked ticket to t.State and records who did it and why.
func (Store) EndTicket(ctx context.Context, q pg.Querier, t domain.Ticket, by domain.Transition) error {
	b := &pgx.Batch{}
	b.Queue(`UPDATE ticket SET state = $2, version = $3, close_time = $4 WHERE id = $1`, t.ID, t.State, t.Version, nullTime(t.CloseTime))
	b.Queue(`INSERT INTO ticket_transition (ticket, version, state, actor, reason, transition_time) VALUES ($1, $2, $3, $4, $5, $6)`,
		t.ID, t.Version, t.State, by.Actor, by.Reason, by.Time)
	return wrap(q.SendBatch(ctx, b).Close(), "end ticket")
}

// SignTicket stores who signed for a ticket that is being closed, if anybody did.
func (Store) SignTicket(ctx context.Context, q pg.Querier, t domain.Ticket) error {
	return sign(ctx, q, t)
}

// TouchTicket stores a new version of a locked ticket whose state stays.
func (Store) TouchTicket(ctx context.Context, q pg.Querier, t domain.Ticket) error {
	_, err := q.Exec(ctx, `UPDATE ticket SET version = $2 WHERE id = $1`, t.ID, t.Version)
	return wrap(err, "touch ticket")
}

// InsertTicketChecks keeps which check each scale of a ticket had when it was closed.
func (Store) InsertTicketChecks(ctx context.Context, q pg.Querier, ticket uuid.UUID, scales []domain.Scale) error {
	checks := make([]uuid.UUID, 0, len(scales))
	for _, s := range scales {
		checks = append(checks, s.LastCheck.ID)
	}
	_, err := q.Exec(ctx, `INSERT INTO ticket_scale_check (ticket, scale_check) SELECT $1, unnest($2::uuid[])`, ticket, checks)
	return wrap(err, "insert the checks of a ticket")
}

// InsertDeclaration stores that the declaration of a locked ticket came late.
func (Store) InsertDeclaration(ctx context.Context, q pg.Querier, t domain.Ticket, declarer, note string) error {
	_, err := q.Exec(ctx, `INSERT INTO ticket_declaration (ticket, declarer, note, declare_time) VALUES ($1, $2, $3, $4)`,
		t.ID, declarer, note, t.LateDeclareTime)
	return wrap(err, "insert harvest declaration")
}

// InsertLines lists barrels on a new ticket, in their order.
func (Store) InsertLines(ctx context.Context, q pg.Querier, t domain.Ticket) error {
	barrels := make([]uuid.UUID, 0, len(t.Barrels))
	for _, b := range t.Barrels {
		barrels = append(barrels, b.ID)
	}
	_, err := q.Exec(ctx, `INSERT INTO ticket_line (ticket, line, barrel)
		SELECT $1, l.line, l.barrel FROM unnest($2::uuid[]) WITH ORDINALITY AS l (barrel, line)`, t.ID, barrels)
	return wrap(err, "insert ticket lines")
}
