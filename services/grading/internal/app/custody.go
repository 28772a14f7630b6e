package app

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/grading/internal/message"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// Custody holds what the dock said of portions whose chain of custody broke.
type Custody interface {
	SaveGap(ctx context.Context, tx pgx.Tx, g *domain.CustodyGap) error
	Gaps(ctx context.Context, q pg.Querier, codes ...string) (map[string][]domain.CustodyGap, error)
}

// CustodyBroken notes a gap and tells the neighbours which certificate can no longer dock anybody by it. During a rebuild
// the records are there already and nobody is told again.
func (a *App) CustodyBroken(ctx context.Context, tx pgx.Tx, g domain.CustodyGap, ev feed.Event) ([]feed.Fact, error) {
	if err := a.Custody.SaveGap(ctx, tx, &g); err != nil || feed.Rebuilding(ctx) {
		return nil, err
	}
	row, err := a.Bench.Lock(ctx, tx, g.Sample)
	if err != nil {
		return nil, err
	}
	standing, err := a.Readings.Standing(ctx, tx, g.Sample)
	if err != nil {
		return nil, err
	}
	if row.State, err = a.state(ctx, tx, a.house(&row.Sample), standing[g.Sample], row.Certificate != nil); err != nil {
		return nil, err
	}
	if err := a.Bench.SavePosition(ctx, tx, g.Sample, row.Position); err != nil || row.Certificate == nil {
		return nil, err
	}
	return a.unfit(ctx, tx, *row.Certificate, g, ev)
}

// unfit is the fact that a certificate rests on a portion nobody could vouch for; nothing where it does not.
func (a *App) unfit(ctx context.Context, tx pgx.Tx, certificate uuid.UUID, g domain.CustodyGap, ev feed.Event) ([]feed.Fact, error) {
	issued, err := a.Releases.Certificate(ctx, tx, certificate)
	if err != nil {
		return nil, err
	}
	if issued.Certificate.Unfit([]domain.CustodyGap{g}) == nil {
		return nil, nil
	}
	return []feed.Fact{{Aggregate: issued.Certificate.Name(), OccurTime: ev.OccurTime, Payload: &gradingv1.CertificateUnfit{
		Certificate: issued.Certificate.Name(), Sample: domain.SampleName(g.Sample), Gap: message.CustodyGap(&g), Explanation: g.Words(),
	}}}, nil
}

// gapsOf are the gaps of one sample.
func (a *App) gapsOf(ctx context.Context, q pg.Querier, code string) ([]domain.CustodyGap, error) {
	gaps, err := a.Custody.Gaps(ctx, q, code)
	return gaps[code], err
}
