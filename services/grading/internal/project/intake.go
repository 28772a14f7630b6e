// Package project applies the facts of neighbours. Grading follows intake alone.
package project

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/kit/feed"
)

// Samples is where drawn samples are kept.
type Samples interface {
	AddSample(ctx context.Context, tx pgx.Tx, s domain.Sample) error
}

// ReadTables are those Intake fills and a rebuild empties.
var ReadTables = []string{"sample"}

// Intake keeps code, variety, crop year and draw time of every sample drawn, and nothing else of anything: whoever judges
// a jar must not be able to find out whose it is, not even with the database in hand.
func Intake(samples Samples) func(context.Context, pgx.Tx, feed.Event) ([]feed.Fact, error) {
	return func(ctx context.Context, tx pgx.Tx, ev feed.Event) ([]feed.Fact, error) {
		drawn, ok := ev.Payload.(*intakev1.SampleDrawn)
		if !ok {
			return nil, nil
		}
		code, err := domain.SampleCode("sample", drawn.GetSample())
		if err != nil {
			return nil, fmt.Errorf("sample of event %d: %w", ev.Sequence, err)
		}
		return nil, samples.AddSample(ctx, tx, domain.Sample{
			Code: code, Variety: drawn.GetVariety(), CropYear: drawn.GetCropYear(), DrawTime: ev.OccurTime,
		})
	}
}
