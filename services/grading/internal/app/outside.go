package app

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"
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

// OutsideRow is a result with its place in the list.
type OutsideRow struct {
	Sequence int64
	Result   domain.OutsideResult
}

// Outside holds composites, results of outside laboratories and what follows from a residue. All is only ever added to.
type Outside interface {
	// OutsideResult fails with *domain.NotFoundError.
	OutsideResult(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.OutsideResult, error)
	OutsideResults(ctx context.Context, q pg.Querier, sample string, before int64, most int) ([]OutsideRow, error)
	OutsideOf(ctx context.Context, q pg.Querier, codes []string) ([]domain.OutsideResult, error)
	SaveOutsideResult(ctx context.Context, tx pgx.Tx, r *domain.OutsideResult) error
	SaveOutsideSecond(ctx context.Context, tx pgx.Tx, id uuid.UUID, s *domain.OutsideSecond) error
	// Composite fails with *domain.NotFoundError.
	Composite(ctx context.Context, q pg.Querier, code string) (domain.Composite, error)
	Composites(ctx context.Context, q pg.Querier, before SampleKey, most int) ([]domain.Composite, error)
	CompositesOf(ctx context.Context, q pg.Querier, codes []string) ([]domain.Composite, error)
	SaveComposite(ctx context.Context, tx pgx.Tx, c *domain.Composite) error
	// LockCodes takes samples and composites alike, in order of code.
	LockCodes(ctx context.Context, tx pgx.Tx, codes ...string) error
	Suspect(ctx context.Context, tx pgx.Tx, codes []string, analyte string, result uuid.UUID) error
	EndSuspicions(ctx context.Context, tx pgx.Tx, code, analyte string, by uuid.UUID, confirmed bool) (int64, error)
	Suspicions(ctx context.Context, q pg.Querier, codes []string) (map[string][]domain.Suspect, error)
	Disposals(ctx context.Context, q pg.Querier, codes []string) (map[string]domain.Disposal, error)
	SaveDisposal(ctx context.Context, tx pgx.Tx, d *domain.Disposal) error
}

// ListAnalytes lists what outside laboratories look for.
func (*App) ListAnalytes(context.Context, *gradingv1.ListAnalytesRequest) (*gradingv1.ListAnalytesResponse, error) {
	answer := &gradingv1.ListAnalytesResponse{}
	all := domain.Analytes()
	for i := range all {
		answer.Analytes = append(answer.Analytes, message.Analyte(&all[i]))
	}
	return answer, nil
}

// subject is what a jar holds: a composite of samples, or one sample. A duplicate jar holds the sample it was taken from, of
// which neighbours know; whoever keys its results is not told.
type subject struct {
	composite *domain.Composite
	samples   []string
}

// subjectOf fails with *domain.NotFoundError.
func (a *App) subjectOf(ctx context.Context, q pg.Querier, code string) (subject, error) {
	c, err := a.Outside.Composite(ctx, q, code)
	var missing *domain.NotFoundError
	switch {
	case err == nil:
		return subject{&c, c.Samples}, nil
	case !errors.As(err, &missing):
		return subject{}, err
	}
	row, err := a.Bench.Sample(ctx, q, code)
	if err != nil {
		return subject{}, err
	}
	return subject{samples: []string{cmp.Or(row.Sample.Original, code)}}, nil
}

// KeyOutsideResult keys a figure for the first time.
func (a *App) KeyOutsideResult(ctx context.Context, req *gradingv1.KeyOutsideResultRequest) (*gradingv1.OutsideResult, error) {
	row := domain.OutsideRow{Laboratory: strings.TrimSpace(req.GetLaboratory()), Report: strings.TrimSpace(req.GetReport())}
	var err error
	if row.Sample, err = domain.SampleCode("sample", req.GetSample()); err != nil {
		return nil, err
	}
	if row.Analyte, err = domain.FindAnalyte(req.GetAnalyte()); err != nil {
		return nil, err
	}
	if row.Found, err = row.Analyte.ParseFound(req.GetValue()); err != nil {
		return nil, err
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*gradingv1.OutsideResult, []feed.Fact, error) {
		r, err := a.keyOutside(ctx, tx, &row)
		if err != nil {
			return nil, nil, err
		}
		return message.OutsideResult(r), nil, nil
	})
}

// mayKey refuses a sample that is not known and a figure that stands already.
func (a *App) mayKey(ctx context.Context, q pg.Querier, row *domain.OutsideRow) error {
	if _, err := a.subjectOf(ctx, q, row.Sample); err != nil {
		return err
	}
	before, err := a.Outside.OutsideOf(ctx, q, []string{row.Sample})
	if err != nil {
		return err
	}
	for i := range before {
		r := &before[i]
		if r.Analyte.ID == row.Analyte.ID && r.Report == row.Report && r.State() != domain.Withdrawn {
			return &domain.TakenError{Resource: r.Name(), Message: fmt.Sprintf(
				"%s of report %s was keyed for %s already: have it confirmed, or withdraw it first", row.Analyte.Words, row.Report, domain.SampleName(row.Sample))}
		}
	}
	return nil
}

func (a *App) keyOutside(ctx context.Context, tx pgx.Tx, row *domain.OutsideRow) (*domain.OutsideResult, error) {
	if err := a.Outside.LockCodes(ctx, tx, row.Sample); err != nil {
		return nil, err
	}
	if err := a.mayKey(ctx, tx, row); err != nil {
		return nil, err
	}
	r := &domain.OutsideResult{
		ID: uuid.New(), Sample: row.Sample, Analyte: row.Analyte, Found: row.Found, Laboratory: row.Laboratory, Report: row.Report,
		Keyer: access.From(ctx).Login, KeyTime: a.now(),
	}
	return r, a.Outside.SaveOutsideResult(ctx, tx, r)
}

// WithdrawOutsideResult takes a keyed figure back.
func (a *App) WithdrawOutsideResult(ctx context.Context, req *gradingv1.WithdrawOutsideResultRequest) (*gradingv1.OutsideResult, error) {
	id, err := domain.OutsideID(req.GetName())
	if err != nil {
		return nil, err
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*gradingv1.OutsideResult, []feed.Fact, error) {
		r, err := a.lockOutside(ctx, tx, id)
		if err != nil {
			return nil, nil, err
		}
		second, err := r.Withdraw(strings.TrimSpace(req.GetReason()), access.From(ctx).Login, a.now())
		if err != nil {
			return nil, nil, err
		}
		r.Second = &second
		return message.OutsideResult(&r), nil, a.Outside.SaveOutsideSecond(ctx, tx, id, &second)
	})
}

// lockOutside reads a result behind the lock of its sample. What is read before the lock never changes.
func (a *App) lockOutside(ctx context.Context, tx pgx.Tx, id uuid.UUID) (domain.OutsideResult, error) {
	r, err := a.Outside.OutsideResult(ctx, tx, id)
	if err != nil {
		return r, err
	}
	if f := r.Analyte.Kind.Factor(); f != 0 {
		if err := a.Controls.LockFactors(ctx, tx, f); err != nil {
			return r, err
		}
	}
	of, err := a.subjectOf(ctx, tx, r.Sample)
	if err != nil {
		return r, err
	}
	codes := append([]string{r.Sample}, of.samples...)
	slices.Sort(codes)
	if err := a.Outside.LockCodes(ctx, tx, slices.Compact(codes)...); err != nil {
		return r, err
	}
	return a.Outside.OutsideResult(ctx, tx, id)
}

// ListOutsideResults lists newest first.
func (a *App) ListOutsideResults(ctx context.Context, req *gradingv1.ListOutsideResultsRequest) (*gradingv1.ListOutsideResultsResponse, error) {
	size, err := page.Size(req.GetPageSize())
	if err != nil {
		return nil, fmt.Errorf("list outside results: %w", err)
	}
	var before int64
	if err := page.Decode(req.GetPageToken(), req, &before); err != nil {
		return nil, fmt.Errorf("list outside results: %w", err)
	}
	code := ""
	if req.GetSample() != "" {
		if code, err = domain.SampleCode("sample", req.GetSample()); err != nil {
			return nil, err
		}
	}
	rows, err := a.Outside.OutsideResults(ctx, a.DB.Pool(), code, before, size+1)
	if err != nil {
		return nil, err
	}
	answer := &gradingv1.ListOutsideResultsResponse{}
	rows, answer.NextPageToken = page.Cut(rows, size, req, func(r OutsideRow) any { return r.Sequence })
	for i := range rows {
		one := message.OutsideResult(&rows[i].Result)
		if rows[i].Result.State() == domain.Keyed && rows[i].Result.Keyer != access.From(ctx).Login {
			one.Value, one.Explanation = "", "Waits for its second keying, so the first is not shown."
		}
		answer.Results = append(answer.Results, one)
	}
	return answer, nil
}
