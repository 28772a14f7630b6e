// Package project applies the facts of neighbours. Grading follows intake alone.
package project

import (
	"context"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/kit/feed"
)

// Samples is where drawn samples are kept.
type Samples interface {
	AddSample(ctx context.Context, tx pgx.Tx, s domain.Sample) error
}

// Custody is told of portions nobody can vouch for.
type Custody interface {
	CustodyBroken(ctx context.Context, tx pgx.Tx, g domain.CustodyGap, ev feed.Event) ([]feed.Fact, error)
}

// ReadTables are those Intake fills and a rebuild empties.
var ReadTables = []string{"sample", "custody_gap"}

// Intake keeps code, variety, crop year and draw time of every sample drawn, the gaps in the custody of its portions, and
// nothing else of anything: whoever judges a jar must not be able to find out whose it is, not even with the database in
// hand.
func Intake(samples Samples, custody Custody) func(context.Context, pgx.Tx, feed.Event) ([]feed.Fact, error) {
	return func(ctx context.Context, tx pgx.Tx, ev feed.Event) ([]feed.Fact, error) {
		switch fact := ev.Payload.(type) {
		case *intakev1.SampleDrawn:
			code, err := sampleCode(ev, fact.GetSample())
			if err != nil {
				return nil, err
			}
			return nil, samples.AddSample(ctx, tx, domain.Sample{
				Code: code, Variety: fact.GetVariety(), CropYear: fact.GetCropYear(), DrawTime: ev.OccurTime,
			})
		case *intakev1.SampleCustodyBroken:
			code, err := sampleCode(ev, fact.GetSample())
			if err != nil {
				return nil, err
			}
			g := domain.CustodyGap{Sample: code, Portion: strings.TrimPrefix(fact.GetPortion().String(), "PORTION_"), Reason: fact.GetReason()}
			if since := fact.GetSinceTime(); since != nil {
				g.Since = since.AsTime()
			}
			return custody.CustodyBroken(ctx, tx, g, ev)
		default:
			return nil, nil
		}
	}
}

func sampleCode(ev feed.Event, name string) (string, error) {
	code, err := domain.SampleCode("sample", name)
	if err != nil {
		return "", fmt.Errorf("sample of event %d: %w", ev.Sequence, err)
	}
	return code, nil
}
