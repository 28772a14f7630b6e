package rpc

import (
	"context"
	"maps"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/heat"
	"barrelhead.example/services/inventory/internal/domain/label"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/kit/quantity"
)

// CreateLabel enters a label.
func (s *Server) CreateLabel(ctx context.Context, req *inventoryv1.CreateLabelRequest) (*inventoryv1.Label, error) {
	r := s.reader()
	l := label.Label{
		ID: req.GetLabelId(), Title: req.GetTitle(), Rules: r.rules(req.GetRules()), Face: r.face(req.GetFace()),
		ShelfMonths: int(req.GetShelfLifeMonths()), Creator: access.From(ctx).Login, Time: s.app.Clock.Now().UTC(),
	}
	faults := l.Check()
	for _, field := range slices.Sorted(maps.Keys(faults)) {
		r.note(field, faults[field])
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.Label, []feed.Fact, error) {
		return present.Label(l), nil, s.app.Lots.AddLabel(ctx, tx, l)
	})
}

func (r *reader) face(m *inventoryv1.LabelFace) label.Face {
	f := label.Face{
		GTIN: m.GetGtin(), Origin: m.GetOrigin(), InfantCaution: m.GetInfantCaution(),
		Ounces: r.fixed("face.net_ounces", m.GetNetOunces(), 2), Grams: r.fixed("face.net_grams", m.GetNetGrams(), 1),
	}
	f.Certified = r.certified("face.certified_claims", m.GetCertifiedClaims())
	for _, c := range m.GetClaims() {
		f.Claims = append(f.Claims, label.Claim(strings.TrimPrefix(c.String(), present.ClaimPrefix)))
	}
	if m.GetMaxCelsius() != "" {
		c := heat.Celsius(r.fixed("face.max_celsius", m.GetMaxCelsius(), 1))
		f.MaxCelsius = &c
	}
	return f
}

// fixed reads a number that is not negative; nothing is zero.
func (r *reader) fixed(field, value string, digits int) int64 {
	if value == "" {
		return 0
	}
	v, err := quantity.ParseFixed(value, digits)
	if err == nil && v < 0 {
		err = errNegative
	}
	r.note(field, err)
	return v
}

// ApproveLabel lets a label be used.
func (s *Server) ApproveLabel(ctx context.Context, req *inventoryv1.ApproveLabelRequest) (*inventoryv1.Label, error) {
	r := s.reader()
	c := app.ApproveLabel{ID: r.word("name", "labels", req.GetName()), Evidence: req.GetEvidence(), Actor: access.From(ctx).Login}
	if err := r.err(); err != nil {
		return nil, err
	}
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.Label, []feed.Fact, error) {
		l, facts, err := s.app.ApproveLabel(ctx, tx, c)
		return present.Label(l), facts, err
	})
}

// ListLabels lists the labels.
func (s *Server) ListLabels(ctx context.Context, req *inventoryv1.ListLabelsRequest) (*inventoryv1.ListLabelsResponse, error) {
	var after string
	size, err := paging(req, &after)
	if err != nil {
		return nil, err
	}
	labels, err := s.app.Lots.Labels(ctx, s.app.DB.Pool(), after, size+1)
	if err != nil {
		return nil, err
	}
	answer := &inventoryv1.ListLabelsResponse{}
	labels, answer.NextPageToken = page.Cut(labels, size, req, func(last label.Label) any { return last.ID })
	for _, l := range labels {
		answer.Labels = append(answer.Labels, present.Label(l))
	}
	return answer, nil
}
