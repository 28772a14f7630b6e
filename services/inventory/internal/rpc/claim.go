package rpc

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/blend"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
)

var (
	errNoClaim    = errors.New("must be at least 2 characters beside spaces")
	errNamedTwice = errors.New("must be empty where the barrel itself is named")
)

// claim reads the name of a claim.
func (r *reader) claim(field, typed string) string {
	name := stock.ClaimName(typed)
	if len([]rune(name)) < 2 {
		r.note(field, errNoClaim)
	}
	return name
}

// certified reads the claims a label prints.
func (r *reader) certified(field string, typed []string) (out []string) {
	for n, one := range typed {
		name := r.claim(fmt.Sprintf("%s[%d]", field, n), one)
		if slices.Contains(out, name) {
			r.note(fmt.Sprintf("%s[%d]", field, n), fmt.Errorf("%q stands there twice", name))
		}
		out = append(out, name)
	}
	return out
}

// RecordClaimTest records what a test says of a barrel or, blind, of the one a sample was drawn from.
func (s *Server) RecordClaimTest(ctx context.Context, req *inventoryv1.RecordClaimTestRequest) (*inventoryv1.ClaimTest, error) {
	r := s.reader()
	t := stock.ClaimTest{
		Claim: r.claim("claim", req.GetClaim()), Outcome: stock.Outcome(strings.TrimPrefix(req.GetOutcome().String(), present.OutcomePrefix)),
		Report: req.GetReport(), Method: req.GetMethod(), Recorder: access.From(ctx).Login,
	}
	blind := req.GetSample() != ""
	switch {
	case blind && req.GetStockItem() != "":
		r.note("sample", errNamedTwice)
	case !blind:
		t.Barrel = r.id("stock_item", "stock", req.GetStockItem())
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.ClaimTest, []feed.Fact, error) {
		if blind {
			barrel, err := s.app.DrawnFrom(ctx, tx, req.GetSample())
			if err != nil {
				return nil, nil, err
			}
			t.Barrel = barrel
		}
		made, facts, err := s.app.RecordClaimTest(ctx, tx, t)
		answer := present.ClaimTest(made)
		if blind {
			answer.StockItem = ""
		}
		return answer, facts, err
	})
}

// ApproveClaim approves a claim.
func (s *Server) ApproveClaim(ctx context.Context, req *inventoryv1.ApproveClaimRequest) (*inventoryv1.ClaimApproval, error) {
	r := s.reader()
	barrel, claim := r.id("stock_item", "stock", req.GetStockItem()), r.claim("claim", req.GetClaim())
	if err := r.err(); err != nil {
		return nil, err
	}
	actor := access.From(ctx).Login
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.ClaimApproval, []feed.Fact, error) {
		made, facts, err := s.app.ApproveClaim(ctx, tx, barrel, claim, req.GetEvidence(), actor)
		return present.ClaimApproval(made), facts, err
	})
}

// WithdrawClaim ends an approval.
func (s *Server) WithdrawClaim(ctx context.Context, req *inventoryv1.WithdrawClaimRequest) (*inventoryv1.ClaimApproval, error) {
	r := s.reader()
	barrel, claim := r.id("stock_item", "stock", req.GetStockItem()), r.claim("claim", req.GetClaim())
	if err := r.err(); err != nil {
		return nil, err
	}
	actor := access.From(ctx).Login
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.ClaimApproval, []feed.Fact, error) {
		ended, facts, err := s.app.WithdrawClaim(ctx, tx, barrel, claim, req.GetReason(), actor)
		return present.ClaimApproval(ended), facts, err
	})
}

// claimed fills the groups of an order that select by a claim with the barrels it stands for now.
func (s *Server) claimed(ctx context.Context, asked *inventoryv1.BlendOrder, order blend.Order) error {
	for n, g := range asked.GetGroups() {
		if name := stock.ClaimName(g.GetClaim()); name != "" {
			if err := s.app.TakeClaimed(ctx, order.Groups[n], name); err != nil {
				return err
			}
		}
	}
	return nil
}
