package rpc

import (
	"context"
	"fmt"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/kit/pg"
)

func (f *fields) owners(field string, asked []*intakev1.OwnerShare) domain.Owners {
	var owners domain.Owners
	for i, o := range asked {
		share, err := domain.ParseShare(o.GetSharePercent())
		if err != nil {
			f.fault(fmt.Sprintf("%s[%d].share_percent", field, i), "%s", err)
		}
		owners = append(owners, domain.Owner{Member: f.member(fmt.Sprintf("%s[%d].member", field, i), o.GetMember()), Share: share})
	}
	return owners
}

// SetStandingSplit records who owns the deliveries of a member.
func (s *Server) SetStandingSplit(ctx context.Context, req *intakev1.SetStandingSplitRequest) (*intakev1.StandingSplit, error) {
	var f fields
	split := domain.StandingSplit{
		Member: f.member("member", req.GetMember()), From: req.GetEffectiveDate(), Owners: f.owners("owners", req.GetOwners()),
		Note: req.GetNote(),
	}
	if err := f.err(); err != nil {
		return nil, err
	}
	return once(ctx, s, req, func(ctx context.Context, tx pg.Querier) (domain.StandingSplit, []feed.Fact, error) {
		return s.app.SetStandingSplit(ctx, tx, split)
	}, s.write.StandingSplit)
}

// ListStandingSplits lists what was agreed for the deliveries of a member.
func (s *Server) ListStandingSplits(ctx context.Context, req *intakev1.ListStandingSplitsRequest) (*intakev1.ListStandingSplitsResponse, error) {
	var f fields
	member := f.member("member", req.GetMember())
	if err := f.err(); err != nil {
		return nil, err
	}
	size, err := page.Size(req.GetPageSize())
	if err != nil {
		return nil, err
	}
	var before int64
	if err := page.Decode(req.GetPageToken(), req, &before); err != nil {
		return nil, err
	}
	found, more, err := s.app.StandingSplits(ctx, s.db.Pool(), member, before, size)
	if err != nil {
		return nil, err
	}
	answer := &intakev1.ListStandingSplitsResponse{}
	for _, split := range found {
		answer.StandingSplits = append(answer.StandingSplits, s.write.StandingSplit(split))
	}
	if more {
		answer.NextPageToken = page.Encode(found[len(found)-1].ID, req)
	}
	return answer, nil
}
