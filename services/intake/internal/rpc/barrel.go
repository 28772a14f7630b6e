package rpc

import (
	"context"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/intake/internal/message"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// WeighBarrel puts a barrel on an open ticket.
func (s *Server) WeighBarrel(ctx context.Context, req *intakev1.WeighBarrelRequest) (*intakev1.Barrel, error) {
	var f fields
	b := domain.Barrel{
		ID: f.optionalID("barrel_id", req.GetBarrelId()), Ticket: f.id("ticket", "tickets", req.GetTicket()),
		DrumTag: req.GetDrumTag(), Variety: req.GetVariety(), Scale: f.scale("scale", req.GetScale()),
		Weighing: domain.Weighing{
			Gross: f.mass("gross", req.GetGross(), s.app.Unit), Tare: f.mass("tare", req.GetTare(), s.app.Unit),
			TareKind: message.TareKind(req.GetTareKind()), RawIndication: req.GetRawIndication(), Stable: req.GetStable(),
			Manual: req.GetManual(), Reason: req.GetReason(),
		},
	}
	if err := f.err(); err != nil {
		return nil, err
	}
	answer, err := once(ctx, s, req, func(ctx context.Context, tx pg.Querier) (domain.Barrel, []feed.Fact, error) {
		return s.app.WeighBarrel(ctx, tx, b)
	}, s.write.Barrel)
	if err != nil {
		return nil, s.app.NameOpenBarrel(ctx, s.db.Pool(), err)
	}
	return answer, nil
}

// DrawSample takes a sample under a new blind code.
func (s *Server) DrawSample(ctx context.Context, req *intakev1.DrawSampleRequest) (*intakev1.Barrel, error) {
	var f fields
	id := f.id("barrel", "barrels", req.GetBarrel())
	if err := f.err(); err != nil {
		return nil, err
	}
	return once(ctx, s, req, func(ctx context.Context, tx pg.Querier) (domain.Barrel, []feed.Fact, error) {
		return s.app.DrawSample(ctx, tx, id)
	}, s.write.Barrel)
}

// GetBarrel returns one barrel.
func (s *Server) GetBarrel(ctx context.Context, req *intakev1.GetBarrelRequest) (*intakev1.Barrel, error) {
	var f fields
	id := f.id("name", "barrels", req.GetName())
	if err := f.err(); err != nil {
		return nil, err
	}
	b, err := s.app.Barrel(ctx, s.db.Pool(), id)
	if err != nil {
		return nil, err
	}
	return s.write.Barrel(b), nil
}
