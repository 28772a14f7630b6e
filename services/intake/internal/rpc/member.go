package rpc

import (
	"context"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/kit/pg"
)

// CreateMember registers a member.
func (s *Server) CreateMember(ctx context.Context, req *intakev1.CreateMemberRequest) (*intakev1.Member, error) {
	m := domain.Member{
		Number: req.GetMemberNumber(), DisplayName: req.GetDisplayName(), AgreementVersion: req.GetAgreementVersion(),
		JoinDate: req.GetJoinDate(),
	}
	return once(ctx, s, req, func(ctx context.Context, tx pg.Querier) (domain.Member, []feed.Fact, error) {
		return s.app.CreateMember(ctx, tx, m)
	}, s.write.Member)
}

// GetMember returns one member.
func (s *Server) GetMember(ctx context.Context, req *intakev1.GetMemberRequest) (*intakev1.Member, error) {
	var f fields
	number := f.member("name", req.GetName())
	if err := f.err(); err != nil {
		return nil, err
	}
	m, err := s.app.Member(ctx, s.db.Pool(), number)
	if err != nil {
		return nil, err
	}
	return s.write.Member(m), nil
}

// ListMembers lists members by number.
func (s *Server) ListMembers(ctx context.Context, req *intakev1.ListMembersRequest) (*intakev1.ListMembersResponse, error) {
	size, err := page.Size(req.GetPageSize())
	if err != nil {
		return nil, err
	}
	var after string
	if err := page.Decode(req.GetPageToken(), req, &after); err != nil {
		return nil, err
	}
	found, more, err := s.app.Members(ctx, s.db.Pool(), after, size)
	if err != nil {
		return nil, err
	}
	answer := &intakev1.ListMembersResponse{}
	for _, m := range found {
		answer.Members = append(answer.Members, s.write.Member(m))
	}
	if more {
		answer.NextPageToken = page.Encode(found[len(found)-1].Number, req)
	}
	return answer, nil
}
