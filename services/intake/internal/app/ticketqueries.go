package app

import (
	"context"
	"slices"
	"strings"

	"github.com/google/uuid"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/pg"
)

// Ticket reads a ticket with its barrels, as far as the caller may see it.
func (a *App) Ticket(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.Ticket, error) {
	t, err := a.Store.Ticket(ctx, q, id)
	if err != nil {
		return t, err
	}
	if !sees(ctx, t) {
		return domain.Ticket{}, domain.NotFound(t.Name())
	}
	return asSeen(ctx, t), nil
}

// Tickets lists a page, newest number first, and reports whether more follow. A member sees only its own; asking for
// another's gives what asking for an unknown member's does: nothing.
func (a *App) Tickets(ctx context.Context, q pg.Querier, f domain.TicketFilter) ([]domain.Ticket, bool, error) {
	if caller := access.From(ctx); caller.OnlyMember() {
		own := strings.TrimPrefix(caller.Member, "members/")
		if f.Member != "" && f.Member != own || own == "" {
			return nil, false, nil
		}
		f.Member = own
	}
	size := f.Limit
	f.Limit = withNext(size)
	found, err := a.Store.Tickets(ctx, q, f)
	page, more := cut(found, size)
	for i := range page {
		page[i] = asSeen(ctx, page[i])
	}
	return page, more, err
}

// sees reports whether the caller may see a ticket: a member if it holds a share of it.
func sees(ctx context.Context, t domain.Ticket) bool {
	return slices.ContainsFunc(t.SeenBy(), func(number string) bool {
		return access.SeesMember(ctx, domain.Member{Number: number}.Name())
	})
}

func asSeen(ctx context.Context, t domain.Ticket) domain.Ticket {
	if caller := access.From(ctx); caller.OnlyMember() {
		return t.AsSeenBy(strings.TrimPrefix(caller.Member, "members/"))
	}
	return t
}

// Barrel reads a barrel the caller may see.
func (a *App) Barrel(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.Barrel, error) {
	b, err := a.Store.Barrel(ctx, q, id)
	if err != nil {
		return b, err
	}
	if access.SeesMember(ctx, domain.Member{Number: b.Member}.Name()) {
		return b, nil
	}
	t, err := a.Store.TicketHead(ctx, q, b.Ticket)
	if err != nil {
		return domain.Barrel{}, err
	}
	if !sees(ctx, t) {
		return domain.Barrel{}, domain.NotFound(b.Name())
	}
	// Somebody with a share in it: whose barrel it is otherwise is not its business.
	b.Member = ""
	return b, nil
}
