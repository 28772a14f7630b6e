package rpc

import (
	"context"
	"fmt"
	"strings"
	"unicode/utf8"

	"github.com/jackc/pgx/v5"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/page"
)

// leastReason is how many characters say why, as the protos of other reasons have it.
const leastReason = 3

var errNoReason = fmt.Errorf("must be at least %d characters: say why the honey stays in the books", leastReason)

// writeOff is do for changes that answer with a request to write honey off.
func (s *Server) writeOff(ctx context.Context, req idem.Request, fn func(ctx context.Context, tx pgx.Tx) (lots.WriteOff, []feed.Fact, error)) (*inventoryv1.WriteOff, error) {
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.WriteOff, []feed.Fact, error) {
		o, facts, err := fn(ctx, tx)
		return present.WriteOff(o, s.app.Unit), facts, err
	})
}

// RequestWriteOff asks for honey to be written off.
func (s *Server) RequestWriteOff(ctx context.Context, req *inventoryv1.RequestWriteOffRequest) (*inventoryv1.WriteOff, error) {
	r := s.reader()
	o := lots.WriteOff{Place: lots.Place(req.GetFrom()), Jars: req.GetJars(), Reason: req.GetReason(), Asker: access.From(ctx).Login}
	switch {
	case o.Jars == 0:
		o.Mass = r.mass("mass", req.GetMass(), 1)
	case req.GetMass() != nil:
		r.note("mass", errJarsWeigh)
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return s.writeOff(ctx, req, func(ctx context.Context, tx pgx.Tx) (lots.WriteOff, []feed.Fact, error) {
		return s.app.RequestWriteOff(ctx, tx, o)
	})
}

// DecideWriteOff approves a request or declines it.
func (s *Server) DecideWriteOff(ctx context.Context, req *inventoryv1.DecideWriteOffRequest) (*inventoryv1.WriteOff, error) {
	r, actor := s.reader(), access.From(ctx)
	c := app.DecideWriteOff{
		WriteOff: r.id("name", "writeOffs", req.GetName()), Reason: req.GetReason(), Decider: actor.Login, Member: actor.Member,
		Approve: req.GetDecision() == inventoryv1.WriteOffState_WRITE_OFF_STATE_APPROVED,
	}
	if !c.Approve && utf8.RuneCountInString(strings.TrimSpace(c.Reason)) < leastReason {
		r.note("reason", errNoReason)
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return s.writeOff(ctx, req, func(ctx context.Context, tx pgx.Tx) (lots.WriteOff, []feed.Fact, error) {
		return s.app.DecideWriteOff(ctx, tx, c)
	})
}

// WithdrawWriteOff takes a request back.
func (s *Server) WithdrawWriteOff(ctx context.Context, req *inventoryv1.WithdrawWriteOffRequest) (*inventoryv1.WriteOff, error) {
	r, actor := s.reader(), access.From(ctx)
	c := app.WithdrawWriteOff{
		WriteOff: r.id("name", "writeOffs", req.GetName()), Reason: req.GetReason(), Actor: actor.Login, Office: actor.Has(accessv1.Role_ROLE_OFFICE), Member: actor.Member,
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return s.writeOff(ctx, req, func(ctx context.Context, tx pgx.Tx) (lots.WriteOff, []feed.Fact, error) {
		return s.app.WithdrawWriteOff(ctx, tx, c)
	})
}

// GetWriteOff reads one request.
func (s *Server) GetWriteOff(ctx context.Context, req *inventoryv1.GetWriteOffRequest) (*inventoryv1.WriteOff, error) {
	id, err := parseName("name", "writeOffs", req.GetName())
	if err != nil {
		return nil, err
	}
	o, err := s.app.Lots.WriteOff(ctx, s.app.DB.Pool(), id)
	if err != nil {
		return nil, err
	}
	return present.WriteOff(o, s.app.Unit), nil
}

// ListWriteOffs lists requests.
func (s *Server) ListWriteOffs(ctx context.Context, req *inventoryv1.ListWriteOffsRequest) (*inventoryv1.ListWriteOffsResponse, error) {
	before := newest
	size, err := paging(req, &before)
	if err != nil {
		return nil, err
	}
	all, err := s.app.Lots.WriteOffs(ctx, s.app.DB.Pool(), req.GetWaitingOnly(), lots.Place(req.GetFrom()), before, size+1)
	if err != nil {
		return nil, err
	}
	answer := &inventoryv1.ListWriteOffsResponse{}
	all, answer.NextPageToken = page.Cut(all, size, req, func(last lots.WriteOff) any { return last.Number })
	for _, o := range all {
		answer.WriteOffs = append(answer.WriteOffs, present.WriteOff(o, s.app.Unit))
	}
	return answer, nil
}
