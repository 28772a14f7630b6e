package rpc

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/netcontent"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
)

// netCheck is do for changes that answer with a net content check.
func (s *Server) netCheck(ctx context.Context, req idem.Request, fn func(ctx context.Context, tx pgx.Tx) (lots.NetCheck, []feed.Fact, error)) (*inventoryv1.NetContentCheck, error) {
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.NetContentCheck, []feed.Fact, error) {
		check, facts, err := fn(ctx, tx)
		return present.NetCheck(check), facts, err
	})
}

// netWeight reads a weight from least to the heaviest package that is judged.
func (r *reader) netWeight(field, value string, unit netcontent.Unit, least netcontent.Weight) netcontent.Weight {
	w, err := netcontent.ParseWeight(value)
	if err == nil && (w < least || w > netcontent.Most(unit)) {
		err = fmt.Errorf("%s %s is not from %s to %s %s", w, unit, least, netcontent.Most(unit), unit)
	}
	r.note(field, err)
	return w
}

// CheckNetContent judges a sample of the jars of a lot.
func (s *Server) CheckNetContent(ctx context.Context, req *inventoryv1.CheckNetContentRequest) (*inventoryv1.NetContentCheck, error) {
	r := s.reader()
	unit := netcontent.Unit(strings.TrimPrefix(req.GetUnit().String(), present.NetUnitPrefix))
	c := app.CheckNetContent{
		Run: r.id("pack_lot", "packLots", req.GetPackLot()), Actor: access.From(ctx).Login,
		Sample: netcontent.Sample{Unit: unit, Declared: r.netWeight("declared", req.GetDeclared(), unit, 1)},
	}
	for i, w := range req.GetNetWeights() {
		// An empty jar weighs nothing and is a package too.
		c.Sample.Weights = append(c.Sample.Weights, r.netWeight(fmt.Sprintf("net_weights[%d]", i), w, unit, 0))
	}
	c.Sample = r.tared(req.GetTareWeights(), c.Sample)
	if err := r.err(); err != nil {
		return nil, err
	}
	return s.netCheck(ctx, req, func(ctx context.Context, tx pgx.Tx) (lots.NetCheck, []feed.Fact, error) {
		return s.app.CheckNetContent(ctx, tx, c)
	})
}

// tared takes the tare of empty packages off, if any were weighed.
func (r *reader) tared(empties []string, s netcontent.Sample) netcontent.Sample {
	if len(empties) == 0 {
		return s
	}
	if len(empties) < netcontent.FewestTares {
		r.note("tare_weights", fmt.Errorf("are %d: weigh at least %d empty packages", len(empties), netcontent.FewestTares))
		return s
	}
	var tares []netcontent.Weight
	for i, w := range empties {
		tares = append(tares, r.netWeight(fmt.Sprintf("tare_weights[%d]", i), w, s.Unit, 1))
	}
	net, err := s.Tared(tares)
	if light, is := errors.AsType[*netcontent.LightError](err); is {
		r.note(fmt.Sprintf("net_weights[%d]", light.Package), err)
	}
	return net
}

// ReleaseNetContentCheck lets a lot be shipped after a failed check.
func (s *Server) ReleaseNetContentCheck(ctx context.Context, req *inventoryv1.ReleaseNetContentCheckRequest) (*inventoryv1.NetContentCheck, error) {
	r := s.reader()
	c := app.ReleaseNetCheck{Check: r.id("name", "netContentChecks", req.GetName()), Reason: req.GetReason(), Actor: access.From(ctx).Login}
	if err := r.err(); err != nil {
		return nil, err
	}
	return s.netCheck(ctx, req, func(ctx context.Context, tx pgx.Tx) (lots.NetCheck, []feed.Fact, error) {
		return s.app.ReleaseNetCheck(ctx, tx, c)
	})
}

// ListNetContentChecks lists the checks of a lot.
func (s *Server) ListNetContentChecks(ctx context.Context, req *inventoryv1.ListNetContentChecksRequest) (*inventoryv1.ListNetContentChecksResponse, error) {
	r := s.reader()
	run := r.id("pack_lot", "packLots", req.GetPackLot())
	if err := r.err(); err != nil {
		return nil, err
	}
	checks, err := s.app.NetChecks(ctx, run)
	if err != nil {
		return nil, err
	}
	answer := &inventoryv1.ListNetContentChecksResponse{}
	for _, c := range checks {
		answer.Checks = append(answer.Checks, present.NetCheck(c))
	}
	return answer, nil
}
