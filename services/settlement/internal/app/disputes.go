package app

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain"
)

// DisputeStore is where members' questions are kept.
type DisputeStore interface {
	InsertDispute(ctx context.Context, tx pgx.Tx, d *domain.Dispute) error
	InsertDisputeAnswer(ctx context.Context, tx pgx.Tx, d *domain.Dispute) error
	CountDisputes(ctx context.Context, tx pgx.Tx, year string) (int, error)
	Dispute(ctx context.Context, q pg.Querier, id uuid.UUID) (*domain.Dispute, error)
	ListDisputes(ctx context.Context, q pg.Querier, member string, openOnly bool, after int64, limit int) ([]*domain.Dispute, error)
}

// OpenDispute asks about an amount.
func (a *App) OpenDispute(ctx context.Context, req *settlementv1.OpenDisputeRequest) (*settlementv1.Dispute, error) {
	id, err := identity(req.GetPayout(), "payouts")
	if err != nil {
		return nil, err
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.Dispute, []feed.Fact, error) {
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		found, err := a.Store.Payouts(ctx, tx, []uuid.UUID{id})
		if err != nil {
			return nil, nil, err
		}
		if len(found) == 0 || !access.SeesMember(ctx, found[0].Barrel.Member) {
			return nil, nil, apierr.NotFound(req.GetPayout())
		}
		if n := len(found[0].Lines); int(req.GetLine()) > n {
			return nil, nil, apierr.Field("line", fmt.Sprintf("is %d; the payout has %d lines", req.GetLine(), n))
		}
		d, err := a.newDispute(ctx, tx, found[0], req)
		if err != nil {
			return nil, nil, err
		}
		made := a.disputeToProto(d, found[0])
		return made, []feed.Fact{{Aggregate: d.Name(), Payload: &settlementv1.DisputeOpened{Dispute: made}}}, a.Store.InsertDispute(ctx, tx, d)
	})
}

func (a *App) newDispute(ctx context.Context, tx pgx.Tx, p *domain.Payout, req *settlementv1.OpenDisputeRequest) (*domain.Dispute, error) {
	now := a.Clock.Now()
	d := &domain.Dispute{
		Member: p.Barrel.Member, Payout: p.ID, Line: int(req.GetLine()), Question: req.GetQuestion(), Asker: access.From(ctx).Login, AskTime: now,
		Due: a.date(now.AddDate(0, 0, domain.DisputeDays)),
	}
	year := string(a.date(now))[:4]
	before, err := a.Store.CountDisputes(ctx, tx, year)
	if err != nil {
		return nil, err
	}
	d.Number = fmt.Sprintf("D-%s-%03d", year, before+1)
	if d.ID, err = uuid.NewRandom(); err != nil {
		return nil, fmt.Errorf("name the question: %w", err)
	}
	return d, nil
}

// dispute is one question with its payout, or NOT_FOUND, as for a neighbour's.
func (a *App) dispute(ctx context.Context, q pg.Querier, name string) (*domain.Dispute, *domain.Payout, error) {
	id, err := identity(name, "disputes")
	if err != nil {
		return nil, nil, err
	}
	d, err := a.Store.Dispute(ctx, q, id)
	if err != nil {
		return nil, nil, err
	}
	if d == nil || !access.SeesMember(ctx, d.Member) {
		return nil, nil, apierr.NotFound(name)
	}
	found, err := a.Store.Payouts(ctx, q, []uuid.UUID{d.Payout})
	if err != nil || len(found) == 0 {
		return nil, nil, fmt.Errorf("read the payout of %s: %w", d.Number, err)
	}
	return d, found[0], nil
}

// AnswerDispute answers, once.
func (a *App) AnswerDispute(ctx context.Context, req *settlementv1.AnswerDisputeRequest) (*settlementv1.Dispute, error) {
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.Dispute, []feed.Fact, error) {
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		d, p, err := a.dispute(ctx, tx, req.GetName())
		if err != nil {
			return nil, nil, err
		}
		actor, now := access.From(ctx), a.Clock.Now()
		if err := d.MayAnswer(actor.Login, actor.Member); err != nil {
			return nil, nil, err
		}
		d.Answer, d.Outcome, d.Answerer, d.AnswerTime = req.GetAnswer(), int(req.GetOutcome()), actor.Login, &now
		made := a.disputeToProto(d, p)
		return made, []feed.Fact{{Aggregate: d.Name(), Payload: &settlementv1.DisputeAnswered{Dispute: made}}}, a.Store.InsertDisputeAnswer(ctx, tx, d)
	})
}

// GetDispute reads one question.
func (a *App) GetDispute(ctx context.Context, req *settlementv1.GetDisputeRequest) (*settlementv1.Dispute, error) {
	d, p, err := a.dispute(ctx, a.DB.Pool(), req.GetName())
	if err != nil {
		return nil, err
	}
	return a.disputeToProto(d, p), nil
}

// ListDisputes pages through questions, the longest waiting first.
func (a *App) ListDisputes(ctx context.Context, req *settlementv1.ListDisputesRequest) (*settlementv1.ListDisputesResponse, error) {
	member, err := a.visible(ctx, req.GetMember())
	if err != nil {
		return nil, err
	}
	var after int64
	size, err := begin(req, &after)
	if err != nil {
		return nil, err
	}
	found, err := a.Store.ListDisputes(ctx, a.DB.Pool(), member, req.GetOpenOnly(), after, size+1)
	if err != nil {
		return nil, err
	}
	out := &settlementv1.ListDisputesResponse{}
	found, out.NextPageToken = page.Cut(found, size, req, func(d *domain.Dispute) any { return d.Place })
	ids := make([]uuid.UUID, len(found))
	for i, d := range found {
		ids[i] = d.Payout
	}
	payouts, err := a.Store.Payouts(ctx, a.DB.Pool(), ids)
	if err != nil {
		return nil, err
	}
	byID := make(map[uuid.UUID]*domain.Payout, len(payouts))
	for _, p := range payouts {
		byID[p.ID] = p
	}
	for _, d := range found {
		out.Disputes = append(out.Disputes, a.disputeToProto(d, byID[d.Payout]))
	}
	return out, nil
}

// disputeToProto writes a question with the line asked about and its why, which never change.
func (a *App) disputeToProto(d *domain.Dispute, p *domain.Payout) *settlementv1.Dispute {
	today := a.date(a.Clock.Now())
	out := &settlementv1.Dispute{
		Name: d.Name(), Number: d.Number, Member: d.Member, Payout: p.Name(), Line: int32(d.Line), PayoutHeadline: p.Headline, //nolint:gosec // a count of lines
		Question: d.Question, Asker: d.Asker, AskTime: stamp(d.AskTime), DueDate: string(d.Due), Overdue: d.Open() && today > d.Due,
		Answer: d.Answer, Outcome: settlementv1.DisputeOutcome(d.Outcome), Answerer: d.Answerer, Headline: d.Headline(today), //nolint:gosec // one of three
	}
	if d.Line > 0 {
		out.AskedAbout = PayoutToProto(p, a.Terms).GetLines()[d.Line-1]
	}
	if d.AnswerTime != nil {
		out.AnswerTime = stamp(*d.AnswerTime)
	}
	return out
}
