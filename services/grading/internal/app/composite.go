package app

import (
	"context"
	"crypto/rand"
	"fmt"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/grading/internal/message"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/kit/pg"
)

// CreateComposite mixes samples under a new code.
func (a *App) CreateComposite(ctx context.Context, req *gradingv1.CreateCompositeRequest) (*gradingv1.Composite, error) {
	codes := make([]string, 0, len(req.GetSamples()))
	for i, name := range req.GetSamples() {
		code, err := domain.SampleCode(fmt.Sprintf("samples[%d]", i), name)
		if err != nil {
			return nil, err
		}
		codes = append(codes, code)
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*gradingv1.Composite, []feed.Fact, error) {
		sorted := slices.Compact(slices.Sorted(slices.Values(codes)))
		if err := a.Outside.LockCodes(ctx, tx, sorted...); err != nil {
			return nil, nil, err
		}
		var members []domain.Sample
		for _, code := range codes {
			row, err := a.Bench.Sample(ctx, tx, code)
			if err != nil {
				return nil, nil, err
			}
			members = append(members, row.Sample)
		}
		c, err := domain.CompositeOf(members, req.GetGramsEach())
		if err != nil {
			return nil, nil, err
		}
		if err := a.mayMix(ctx, tx, sorted); err != nil {
			return nil, nil, err
		}
		c.Creator, c.Time = access.From(ctx).Login, a.now()
		if c.Code, err = domain.DrawCode(rand.Reader); err != nil {
			return nil, nil, err
		}
		if err := a.Outside.SaveComposite(ctx, tx, &c); err != nil {
			return nil, nil, err
		}
		shown, err := a.showComposites(ctx, tx, []domain.Composite{c})
		if err != nil {
			return nil, nil, err
		}
		return shown[0], nil, nil
	})
}

// mayMix refuses samples whose composite has no result yet, which would be paid for twice, and samples under suspicion,
// which must be tested singly.
func (a *App) mayMix(ctx context.Context, tx pgx.Tx, codes []string) error {
	suspicions, err := a.Outside.Suspicions(ctx, tx, codes)
	if err != nil {
		return err
	}
	for _, code := range codes {
		if sum, _ := domain.SumUp(suspicions[code]); sum == domain.SuspicionOpen || sum == domain.SuspicionConfirmed {
			return &domain.StateError{Resource: domain.SampleName(code), State: "SUSPECTED", Message: domain.SampleName(code) + " is under suspicion of a residue: test it singly"}
		}
	}
	composites, err := a.Outside.CompositesOf(ctx, tx, codes)
	if err != nil {
		return err
	}
	shown, err := a.showComposites(ctx, tx, composites)
	if err != nil {
		return err
	}
	for i, c := range shown {
		if c.GetState() != gradingv1.CompositeState_COMPOSITE_STATE_OPEN {
			continue
		}
		at := slices.IndexFunc(codes, func(code string) bool { return slices.Contains(composites[i].Samples, code) })
		return &domain.StateError{Resource: domain.SampleName(codes[at]), State: "IN_COMPOSITE", Message: fmt.Sprintf(
			"%s is in %s, which has no result yet: wait for it", domain.SampleName(codes[at]), c.GetName())}
	}
	return nil
}

// showComposites adds what became of composites and their members.
func (a *App) showComposites(ctx context.Context, q pg.Querier, list []domain.Composite) ([]*gradingv1.Composite, error) {
	var codes, members []string
	for i := range list {
		codes = append(codes, list[i].Code)
		members = append(members, list[i].Samples...)
	}
	results, err := a.Outside.OutsideOf(ctx, q, codes)
	if err != nil {
		return nil, err
	}
	suspicions, err := a.Outside.Suspicions(ctx, q, members)
	if err != nil {
		return nil, err
	}
	disposals, err := a.Outside.Disposals(ctx, q, members)
	if err != nil {
		return nil, err
	}
	standing, err := a.Readings.Standing(ctx, q, members...)
	if err != nil {
		return nil, err
	}
	shown := make([]*gradingv1.Composite, 0, len(list))
	for i := range list {
		shown = append(shown, message.Composite(&list[i], results, suspicions, disposals, standing))
	}
	return shown, nil
}

// GetComposite is one composite.
func (a *App) GetComposite(ctx context.Context, req *gradingv1.GetCompositeRequest) (*gradingv1.Composite, error) {
	code, err := domain.CompositeCode("name", req.GetName())
	if err != nil {
		return nil, err
	}
	c, err := a.Outside.Composite(ctx, a.DB.Pool(), code)
	if err != nil {
		return nil, err
	}
	shown, err := a.showComposites(ctx, a.DB.Pool(), []domain.Composite{c})
	if err != nil {
		return nil, err
	}
	return shown[0], a.saw(ctx, "GetComposite", shown[0].GetName())
}

// ListComposites lists newest first.
func (a *App) ListComposites(ctx context.Context, req *gradingv1.ListCompositesRequest) (*gradingv1.ListCompositesResponse, error) {
	size, err := page.Size(req.GetPageSize())
	if err != nil {
		return nil, fmt.Errorf("list composites: %w", err)
	}
	var before SampleKey
	if err := page.Decode(req.GetPageToken(), req, &before); err != nil {
		return nil, fmt.Errorf("list composites: %w", err)
	}
	list, err := a.Outside.Composites(ctx, a.DB.Pool(), before, size+1)
	if err != nil {
		return nil, err
	}
	answer := &gradingv1.ListCompositesResponse{}
	list, answer.NextPageToken = page.Cut(list, size, req, func(c domain.Composite) any { return SampleKey{DrawTime: c.Time, Code: c.Code} })
	if answer.Composites, err = a.showComposites(ctx, a.DB.Pool(), list); err != nil {
		return nil, err
	}
	return answer, a.saw(ctx, "ListComposites", namesOf(answer.GetComposites())...)
}

// DisposeSample decides what becomes of honey with a confirmed residue.
func (a *App) DisposeSample(ctx context.Context, req *gradingv1.DisposeSampleRequest) (*gradingv1.SampleDisposal, error) {
	code, err := domain.SampleCode("sample", req.GetSample())
	if err != nil {
		return nil, err
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*gradingv1.SampleDisposal, []feed.Fact, error) {
		if _, err := a.Bench.Lock(ctx, tx, code); err != nil {
			return nil, nil, err
		}
		d := domain.Disposal{
			Sample: code, Disposition: domain.Disposition(strings.TrimPrefix(req.GetDisposition().String(), "DISPOSITION_")),
			Reason: strings.TrimSpace(req.GetReason()), Decider: access.From(ctx).Login, Time: a.now(),
		}
		if err := a.mayDispose(ctx, tx, &d); err != nil {
			return nil, nil, err
		}
		answer := message.Disposal(&d)
		return answer, []feed.Fact{{Aggregate: domain.SampleName(code), Payload: &gradingv1.SampleDisposed{Disposal: answer}, OccurTime: d.Time}},
			a.Outside.SaveDisposal(ctx, tx, &d)
	})
}

func (a *App) mayDispose(ctx context.Context, tx pgx.Tx, d *domain.Disposal) error {
	codes := []string{d.Sample}
	suspicions, err := a.Outside.Suspicions(ctx, tx, codes)
	if err != nil {
		return err
	}
	disposals, err := a.Outside.Disposals(ctx, tx, codes)
	if err != nil {
		return err
	}
	results, err := a.Outside.OutsideOf(ctx, tx, codes)
	if err != nil {
		return err
	}
	var keyers []string
	for i := range results {
		keyers = append(keyers, results[i].Keyer)
		if results[i].Second != nil {
			keyers = append(keyers, results[i].Second.Login)
		}
	}
	var before *domain.Disposal
	if made, ok := disposals[d.Sample]; ok {
		before = &made
	}
	sum, _ := domain.SumUp(suspicions[d.Sample])
	return domain.MayDispose(d.Sample, sum, keyers, before, d.Decider)
}
