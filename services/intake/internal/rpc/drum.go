package rpc

import (
	"context"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/intake/internal/message"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/kit/pg"
)

// GetDrum returns a drum and what fills it.
func (s *Server) GetDrum(ctx context.Context, req *intakev1.GetDrumRequest) (*intakev1.Drum, error) {
	var f fields
	tag := f.drum("name", req.GetName())
	if err := f.err(); err != nil {
		return nil, err
	}
	d, err := s.app.Drum(ctx, s.db.Pool(), tag)
	if err != nil {
		return nil, err
	}
	return s.write.Drum(d), nil
}

// ReleaseDrum frees a drum.
func (s *Server) ReleaseDrum(ctx context.Context, req *intakev1.ReleaseDrumRequest) (*intakev1.Drum, error) {
	var f fields
	tag := f.drum("name", req.GetName())
	r := domain.Release{Reason: req.GetReason()}
	if req.GetEmptyWeight() != nil {
		r.EmptyWeight = f.mass("empty_weight", req.GetEmptyWeight(), s.app.Unit)
	}
	if err := f.err(); err != nil {
		return nil, err
	}
	if req.GetEmptyWeight() != nil {
		if err := domain.EmptyWeight(r.EmptyWeight, s.app.Unit); err != nil {
			return nil, err
		}
	}
	return once(ctx, s, req, func(ctx context.Context, tx pg.Querier) (domain.Drum, []feed.Fact, error) {
		return s.app.ReleaseDrum(ctx, tx, tag, r)
	}, s.write.Drum)
}

// RegisterDrum says what a drum is and whose.
func (s *Server) RegisterDrum(ctx context.Context, req *intakev1.RegisterDrumRequest) (*intakev1.Drum, error) {
	var f fields
	said := domain.Asset{
		Tag: req.GetDrumTag(), Container: message.Container(req.GetContainer()), Ownership: message.Ownership(req.GetOwnership()),
	}
	if req.GetOwner() != "" {
		said.Owner = f.member("owner", req.GetOwner())
	}
	if err := f.err(); err != nil {
		return nil, err
	}
	return once(ctx, s, req, func(ctx context.Context, tx pg.Querier) (domain.Drum, []feed.Fact, error) {
		return s.app.RegisterDrum(ctx, tx, said)
	}, s.write.Drum)
}

// RetireDrum takes a drum out of use.
func (s *Server) RetireDrum(ctx context.Context, req *intakev1.RetireDrumRequest) (*intakev1.Drum, error) {
	var f fields
	tag := f.drum("name", req.GetName())
	if err := f.err(); err != nil {
		return nil, err
	}
	return once(ctx, s, req, func(ctx context.Context, tx pg.Querier) (domain.Drum, []feed.Fact, error) {
		return s.app.RetireDrum(ctx, tx, tag, req.GetReason())
	}, s.write.Drum)
}

// ListDrums lists drums by tag.
func (s *Server) ListDrums(ctx context.Context, req *intakev1.ListDrumsRequest) (*intakev1.ListDrumsResponse, error) {
	var f fields
	var owner, after string
	if req.GetOwner() != "" {
		owner = f.member("owner", req.GetOwner())
	}
	if err := f.err(); err != nil {
		return nil, err
	}
	size, err := page.Size(req.GetPageSize())
	if err != nil {
		return nil, err
	}
	if err := page.Decode(req.GetPageToken(), req, &after); err != nil {
		return nil, err
	}
	found, more, err := s.app.Drums(ctx, s.db.Pool(), owner, after, size)
	if err != nil {
		return nil, err
	}
	answer := &intakev1.ListDrumsResponse{}
	for _, d := range found {
		answer.Drums = append(answer.Drums, s.write.Drum(d))
	}
	if more {
		answer.NextPageToken = page.Encode(found[len(found)-1].Tag, req)
	}
	return answer, nil
}
