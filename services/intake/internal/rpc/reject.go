package rpc

import (
	"context"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/intake/internal/message"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// RejectBarrel notes that a barrel was not taken in.
func (s *Server) RejectBarrel(ctx context.Context, req *intakev1.RejectBarrelRequest) (*intakev1.RejectedBarrel, error) {
	var f fields
	r := domain.Reject{
		Ticket: f.id("ticket", "tickets", req.GetTicket()), DrumTag: req.GetDrumTag(), Reason: message.RejectReason(req.GetReason()),
		Note: req.GetNote(), Photo: req.GetPhotoSha256(),
	}
	if err := f.err(); err != nil {
		return nil, err
	}
	return once(ctx, s, req, func(ctx context.Context, tx pg.Querier) (domain.Reject, []feed.Fact, error) {
		return s.app.RejectBarrel(ctx, tx, r)
	}, s.write.Reject)
}

// RecordRejectExit records how a rejected barrel left.
func (s *Server) RecordRejectExit(ctx context.Context, req *intakev1.RecordRejectExitRequest) (*intakev1.RejectedBarrel, error) {
	var f fields
	by := domain.Reject{
		ID: f.id("name", "rejectedBarrels", req.GetName()), Fate: message.Fate(req.GetFate()), ExitNote: req.GetNote(),
	}
	if err := f.err(); err != nil {
		return nil, err
	}
	return once(ctx, s, req, func(ctx context.Context, tx pg.Querier) (domain.Reject, []feed.Fact, error) {
		return s.app.RecordRejectExit(ctx, tx, by)
	}, s.write.Reject)
}

// ListRejectedBarrels lists what was brought with a ticket but not taken in.
func (s *Server) ListRejectedBarrels(ctx context.Context, req *intakev1.ListRejectedBarrelsRequest) (*intakev1.ListRejectedBarrelsResponse, error) {
	var f fields
	ticket := f.id("ticket", "tickets", req.GetTicket())
	if err := f.err(); err != nil {
		return nil, err
	}
	found, err := s.app.Rejects(ctx, s.db.Pool(), ticket)
	if err != nil {
		return nil, err
	}
	answer := &intakev1.ListRejectedBarrelsResponse{}
	for _, r := range found {
		answer.RejectedBarrels = append(answer.RejectedBarrels, s.write.Reject(r))
	}
	return answer, nil
}

// RecordContainerMove records containers given out, come back or lost.
func (s *Server) RecordContainerMove(ctx context.Context, req *intakev1.RecordContainerMoveRequest) (*intakev1.ContainerAccount, error) {
	var f fields
	m := domain.ContainerMove{
		Member: f.member("member", req.GetMember()), Container: message.Container(req.GetContainer()), Kind: message.MoveKind(req.GetKind()),
		Count: int(req.GetCount()), Note: req.GetNote(),
	}
	if err := f.err(); err != nil {
		return nil, err
	}
	return once(ctx, s, req, func(ctx context.Context, tx pg.Querier) (domain.ContainerAccount, []feed.Fact, error) {
		return s.app.RecordContainerMove(ctx, tx, m)
	}, s.write.ContainerAccount)
}

// GetContainerAccount returns what a member has out.
func (s *Server) GetContainerAccount(ctx context.Context, req *intakev1.GetContainerAccountRequest) (*intakev1.ContainerAccount, error) {
	var f fields
	member := f.member("member", req.GetMember())
	if err := f.err(); err != nil {
		return nil, err
	}
	a, err := s.app.Containers(ctx, s.db.Pool(), member)
	if err != nil {
		return nil, err
	}
	return s.write.ContainerAccount(a), nil
}
