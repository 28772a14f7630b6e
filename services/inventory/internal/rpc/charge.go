package rpc

import (
	"context"
	"fmt"
	"math"

	"github.com/jackc/pgx/v5"
	"google.golang.org/protobuf/proto"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/kit/wire"
)

// do runs a change once per request_id.
func do[R proto.Message](ctx context.Context, s *Server, req idem.Request, fn func(ctx context.Context, tx pgx.Tx) (R, []feed.Fact, error)) (R, error) {
	return idem.Do(ctx, s.app.DB, s.app.Clock, req, fn)
}

// doWith is do for a change that rests on a long reading: read is asked before the transaction, which holds the one database connection a
// request may have, and not at all for a repeat, which has its answer. Repeats that come before the first is saved read as it did.
func doWith[R proto.Message, T any](ctx context.Context, s *Server, req idem.Request, read func(ctx context.Context) (T, error),
	fn func(ctx context.Context, tx pgx.Tx, was T) (R, []feed.Fact, error),
) (R, error) {
	answer, stored, err := idem.Stored[R](ctx, s.app.DB, req)
	if stored || err != nil {
		return answer, err //nolint:wrapcheck // as do
	}
	was, err := read(ctx)
	if err != nil {
		return answer, err
	}
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (R, []feed.Fact, error) { return fn(ctx, tx, was) })
}

// chargeView is a charge with what is still planned for it.
func (s *Server) chargeView(v app.ChargeView) *inventoryv1.Charge {
	m := present.Charge(v.Filling, v.Figures, s.app.Unit)
	if v.Planned != nil {
		m.PlannedFigures = present.Figures(*v.Planned, v.Rules, s.app.Unit)
	}
	return m
}

// charge is do for changes that answer with a charge.
func (s *Server) charge(ctx context.Context, req idem.Request, fn func(ctx context.Context, tx pgx.Tx) (app.ChargeView, []feed.Fact, error)) (*inventoryv1.Charge, error) {
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.Charge, []feed.Fact, error) {
		v, facts, err := fn(ctx, tx)
		return s.chargeView(v), facts, err
	})
}

// CreateTank enters a tank.
func (s *Server) CreateTank(ctx context.Context, req *inventoryv1.CreateTankRequest) (*inventoryv1.Tank, error) {
	r := s.reader()
	t := app.Tank{ID: req.GetTankId(), Capacity: r.mass("capacity", req.GetCapacity(), 1)}
	_, err := lots.LotCode(s.app.Site, t.ID, s.app.Clock.Now(), 1)
	r.note("tank_id", err)
	if err := r.err(); err != nil {
		return nil, err
	}
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.Tank, []feed.Fact, error) {
		return s.tank(t), nil, s.app.Lots.AddTank(ctx, tx, t, s.app.Clock.Now())
	})
}

func (s *Server) tank(t app.Tank) *inventoryv1.Tank {
	m := &inventoryv1.Tank{Name: "tanks/" + t.ID, Capacity: wire.MassToProto(t.Capacity, s.app.Unit), Content: wire.MassToProto(t.Content, s.app.Unit)}
	if charge := lots.Of(lots.Charge, t.Charge); t.Charge != [16]byte{} {
		m.Charge, m.ChargeCode = string(charge), t.Code
	}
	return m
}

// ListTanks lists the tanks.
func (s *Server) ListTanks(ctx context.Context, _ *inventoryv1.ListTanksRequest) (*inventoryv1.ListTanksResponse, error) {
	tanks, err := s.app.Lots.Tanks(ctx, s.app.DB.Pool())
	if err != nil {
		return nil, err
	}
	answer := &inventoryv1.ListTanksResponse{}
	for _, t := range tanks {
		answer.Tanks = append(answer.Tanks, s.tank(t))
	}
	return answer, nil
}

// paging reads size and token of a list request into key.
func paging(req interface {
	proto.Message
	GetPageSize() int32
	GetPageToken() string
}, key any,
) (int, error) {
	size, err := page.Size(req.GetPageSize())
	if err != nil {
		return 0, err
	}
	return size, page.Decode(req.GetPageToken(), req, key)
}

// newest is the key of a first page of rows numbered upwards and listed downwards.
const newest = int64(math.MaxInt64)

// OpenCharge begins a filling of a tank.
func (s *Server) OpenCharge(ctx context.Context, req *inventoryv1.OpenChargeRequest) (*inventoryv1.Charge, error) {
	r := s.reader()
	c := app.OpenCharge{
		Tank: r.word("tank", "tanks", req.GetTank()), Heel: r.mass("heel", req.GetHeel(), 0), Rules: r.rules(req.GetRules()), Actor: access.From(ctx).Login,
	}
	for n, name := range req.GetPicks() {
		c.Picks = append(c.Picks, r.id(fmt.Sprintf("picks[%d]", n), "stock", name))
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return s.charge(ctx, req, func(ctx context.Context, tx pgx.Tx) (app.ChargeView, []feed.Fact, error) {
		return s.app.OpenCharge(ctx, tx, c)
	})
}

// FillCharge empties a barrel into a tank.
func (s *Server) FillCharge(ctx context.Context, req *inventoryv1.FillChargeRequest) (*inventoryv1.Charge, error) {
	r := s.reader()
	c := app.FillCharge{
		Charge: r.id("name", "charges", req.GetName()), Barrel: r.id("stock_item", "stock", req.GetStockItem()),
		Mass: r.optionalMass("mass", req.GetMass()), Drained: req.GetDrained(),
		Replaces: r.optionalID("replaces", "stock", req.GetReplaces()), Reason: req.GetReason(), Confirm: req.GetConfirmBreach(), Actor: access.From(ctx).Login,
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return s.charge(ctx, req, func(ctx context.Context, tx pgx.Tx) (app.ChargeView, []feed.Fact, error) {
		return s.app.FillCharge(ctx, tx, c)
	})
}

// CorrectHeel books a forgotten heel.
func (s *Server) CorrectHeel(ctx context.Context, req *inventoryv1.CorrectHeelRequest) (*inventoryv1.Charge, error) {
	r := s.reader()
	c := app.CorrectHeel{
		Charge: r.id("name", "charges", req.GetName()), Mass: r.mass("mass", req.GetMass(), 1), Reason: req.GetReason(), Actor: access.From(ctx).Login,
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return s.charge(ctx, req, func(ctx context.Context, tx pgx.Tx) (app.ChargeView, []feed.Fact, error) {
		return s.app.CorrectHeel(ctx, tx, c)
	})
}

// TransferCharge pumps honey into another tank.
func (s *Server) TransferCharge(ctx context.Context, req *inventoryv1.TransferChargeRequest) (*inventoryv1.Charge, error) {
	r := s.reader()
	c := app.TransferCharge{
		From: r.id("name", "charges", req.GetName()), To: r.id("to_charge", "charges", req.GetToCharge()),
		Mass: r.mass("mass", req.GetMass(), 1), Actor: access.From(ctx).Login,
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return s.charge(ctx, req, func(ctx context.Context, tx pgx.Tx) (app.ChargeView, []feed.Fact, error) {
		return s.app.TransferCharge(ctx, tx, c)
	})
}

// CloseCharge says that a charge is used up.
func (s *Server) CloseCharge(ctx context.Context, req *inventoryv1.CloseChargeRequest) (*inventoryv1.Charge, error) {
	id, err := parseName("name", "charges", req.GetName())
	if err != nil {
		return nil, err
	}
	actor := access.From(ctx).Login
	return s.charge(ctx, req, func(ctx context.Context, tx pgx.Tx) (app.ChargeView, []feed.Fact, error) {
		return s.app.CloseCharge(ctx, tx, id, actor)
	})
}

// GetCharge reads a charge.
func (s *Server) GetCharge(ctx context.Context, req *inventoryv1.GetChargeRequest) (*inventoryv1.Charge, error) {
	r := s.reader()
	word := r.word("name", "charges", req.GetName())
	if err := r.err(); err != nil {
		return nil, err
	}
	id, err := s.app.FindCharge(ctx, word)
	if err != nil {
		return nil, err
	}
	v, err := s.app.Charge(ctx, id)
	if err != nil {
		return nil, err
	}
	return s.chargeView(v), nil
}

// ListCharges lists charges.
func (s *Server) ListCharges(ctx context.Context, req *inventoryv1.ListChargesRequest) (*inventoryv1.ListChargesResponse, error) {
	before, tank := newest, ""
	size, err := paging(req, &before)
	if err != nil {
		return nil, err
	}
	if r := s.reader(); req.GetTank() != "" {
		tank = r.word("tank", "tanks", req.GetTank())
		if err := r.err(); err != nil {
			return nil, err
		}
	}
	charges, err := s.app.Lots.Charges(ctx, s.app.DB.Pool(), tank, before, size+1)
	if err != nil {
		return nil, err
	}
	answer := &inventoryv1.ListChargesResponse{}
	charges, answer.NextPageToken = page.Cut(charges, size, req, func(last lots.Filling) any { return last.Number })
	for _, f := range charges {
		answer.Charges = append(answer.Charges, present.ChargeLine(f, s.app.Unit))
	}
	return answer, nil
}
