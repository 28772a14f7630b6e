package rpc

import (
	"context"
	"errors"

	"github.com/jackc/pgx/v5"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/intake/internal/message"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/pg"
)

// WeighBarrel puts a barrel on an open ticket.
func (s *Server) WeighBarrel(ctx context.Context, req *intakev1.WeighBarrelRequest) (*intakev1.Barrel, error) {
	var f fields
	scale := f.scale(req.GetScale())
	capture := f.capture(req.GetIndication(), scale)
	b := domain.Barrel{
		ID: f.optionalID("barrel_id", req.GetBarrelId()), Ticket: f.id("ticket", "tickets", req.GetTicket()),
		DrumTag: req.GetDrumTag(), Variety: req.GetVariety(), Scale: scale, Capture: capture,
		WeighTime: instant(req.GetWeighTime()), Container: message.Container(req.GetContainer()),
		Weighing: domain.Weighing{
			Gross: f.gross(req.GetGross(), s.app.Unit, capture), Tare: f.mass("tare", req.GetTare(), s.app.Unit),
			TareKind: message.TareKind(req.GetTareKind()), RawIndication: req.GetRawIndication(), Stable: req.GetStable(),
			Manual: req.GetManual(), Reason: req.GetReason(),
			Part: req.GetPart(), Paper: req.GetPaperNumber(),
		},
	}
	if err := f.err(); err != nil {
		return nil, err
	}
	return s.weigh(ctx, req, b)
}

// A ticket on which as many clerks weigh at once as this is not worth waiting for.
const mostDecisions = 20

// weigh decides anew whenever the ticket, the scale or the drum changed between reading and committing.
func (s *Server) weigh(ctx context.Context, req *intakev1.WeighBarrelRequest, asked domain.Barrel) (*intakev1.Barrel, error) {
	for range mostDecisions {
		answer, err := s.weighOnce(ctx, req, asked)
		if !errors.Is(err, domain.ErrStale) {
			return answer, err
		}
	}
	return nil, domain.Busy(req.GetTicket())
}

func (s *Server) weighOnce(ctx context.Context, req *intakev1.WeighBarrelRequest, asked domain.Barrel) (*intakev1.Barrel, error) {
	answer, err := idem.DoShared(ctx, s.db, s.app.Clock, req, func(ctx context.Context) (idem.Plan[*intakev1.Barrel], error) {
		decided, facts, err := s.app.WeighBarrel(ctx, s.db.Pool(), asked)
		return idem.Plan[*intakev1.Barrel]{
			Answer: s.write.Barrel(decided), Facts: facts, Key: decided.Ticket.String(),
			Write: func(batch *pgx.Batch) { s.app.Store.QueueBarrel(batch, decided) },
		}, err
	})
	if err != nil {
		return nil, s.app.Store.BarrelFault(err, asked)
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
	var seals []domain.Seal
	for _, p := range req.GetSeals() {
		seals = append(seals, domain.Seal{Letter: message.PortionLetter(p.GetPortion()), Number: p.GetSeal(), Expires: p.GetExpireDate()})
	}
	return once(ctx, s, req, func(ctx context.Context, tx pg.Querier) (domain.Barrel, []feed.Fact, error) {
		return s.app.DrawSample(ctx, tx, id, seals, req.GetPlace())
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
