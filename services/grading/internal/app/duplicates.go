package app

import (
	"context"
	"crypto/rand"
	"fmt"

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

// CreateDuplicate puts a second jar on the bench. No fact tells of it: neighbours have no use for it.
func (a *App) CreateDuplicate(ctx context.Context, req *gradingv1.CreateDuplicateRequest) (*gradingv1.Duplicate, error) {
	original, err := domain.SampleCode("original", req.GetOriginal())
	if err != nil {
		return nil, err
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*gradingv1.Duplicate, []feed.Fact, error) {
		row, err := a.Bench.Lock(ctx, tx, original)
		if err != nil {
			return nil, nil, err
		}
		if err := domain.MayDuplicate(&row.Sample); err != nil {
			return nil, nil, err
		}
		d := domain.Duplicate{Original: original, Creator: access.From(ctx).Login, Time: a.now()}
		if d.Code, err = domain.DrawCode(rand.Reader); err != nil {
			return nil, nil, err
		}
		return message.Duplicate(&d, nil), nil, a.Bench.SaveDuplicate(ctx, tx, &d)
	})
}

// ListDuplicates lists the pairs with how far they read apart.
func (a *App) ListDuplicates(ctx context.Context, req *gradingv1.ListDuplicatesRequest) (*gradingv1.ListDuplicatesResponse, error) {
	size, err := page.Size(req.GetPageSize())
	if err != nil {
		return nil, fmt.Errorf("list duplicates: %w", err)
	}
	var before SampleKey
	if err := page.Decode(req.GetPageToken(), req, &before); err != nil {
		return nil, fmt.Errorf("list duplicates: %w", err)
	}
	list, err := a.Bench.Duplicates(ctx, a.DB.Pool(), before, size+1)
	if err != nil {
		return nil, err
	}
	answer := &gradingv1.ListDuplicatesResponse{}
	list, answer.NextPageToken = page.Cut(list, size, req, func(d domain.Duplicate) any { return SampleKey{DrawTime: d.Time, Code: d.Code} })
	var codes []string
	for i := range list {
		codes = append(codes, list[i].Code, list[i].Original)
	}
	standing, err := a.Readings.Standing(ctx, a.DB.Pool(), codes...)
	if err != nil {
		return nil, err
	}
	for i := range list {
		differences := domain.House().CompareJars(standing[list[i].Original], standing[list[i].Code])
		answer.Duplicates = append(answer.Duplicates, message.Duplicate(&list[i], differences))
	}
	return answer, nil
}

// differences compares a sample with its other jars.
func (a *App) differences(ctx context.Context, q pg.Querier, code string, readings []domain.Reading) ([]domain.Difference, error) {
	jars, err := a.Bench.DuplicatesOf(ctx, q, code)
	if err != nil || len(jars) == 0 {
		return nil, err
	}
	standing, err := a.Readings.Standing(ctx, q, jars...)
	if err != nil {
		return nil, err
	}
	var all []domain.Difference
	for _, jar := range jars {
		all = append(all, domain.House().CompareJars(readings, standing[jar])...)
	}
	return all, nil
}
