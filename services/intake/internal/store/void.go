package store

import (
	"context"

	"github.com/google/uuid"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/pg"
)

// InsertVoidRequest stores a request; the newest of a ticket counts.
func (Store) InsertVoidRequest(ctx context.Context, q pg.Querier, ticket uuid.UUID, v domain.Void) error {
	members, _, shares := ownerLists(v.ReissueOwners)
	_, err := q.Exec(ctx, `WITH asked AS (
			INSERT INTO ticket_void_request (ticket, ordinal, reason, requester, request_time, reissue_member)
			SELECT $1, coalesce(max(ordinal), 0) + 1, $2, $3, $4, $5 FROM ticket_void_request WHERE ticket = $1 RETURNING ordinal)
		INSERT INTO ticket_void_owner (ticket, request, place, member, share)
		SELECT $1, asked.ordinal, o.place, o.member, o.share
		FROM asked, unnest($6::text[], $7::bigint[]) WITH ORDINALITY AS o (member, share, place)`,
		ticket, v.Reason, v.Requester, v.RequestTime, orNull(v.ReissueMember), members, shares)
	return wrap(err, "insert void request")
}

// InsertVoidApproval approves the newest request of a locked ticket.
func (Store) InsertVoidApproval(ctx context.Context, q pg.Querier, ticket uuid.UUID, v domain.Void) error {
	_, err := q.Exec(ctx, `INSERT INTO ticket_void_approval (ticket, request, approver, approve_time)
		SELECT $1, max(ordinal), $2, $3 FROM ticket_void_request WHERE ticket = $1`, ticket, v.Approver, v.ApproveTime)
	return wrap(err, "insert void approval")
}
