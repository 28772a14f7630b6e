package app

import (
	"context"

	"github.com/jackc/pgx/v5"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

// IssueStore is where it is kept what was put on paper.
type IssueStore interface {
	InsertIssue(ctx context.Context, tx pgx.Tx, i domain.Issue) error
	Issues(ctx context.Context, q pg.Querier, member string, cropYear int) ([]domain.Issue, error)
	IssuesByCode(ctx context.Context, q pg.Querier, code string) ([]domain.Issue, error)
	Standings(ctx context.Context, q pg.Querier, member string, cropYear int) ([]pool.Standing, error)
}

// issue keeps that a statement was put on paper, and numbers it. The same content keeps its number.
func (a *App) issue(ctx context.Context, s *settlementv1.Statement) error {
	return a.DB.InTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		balance, err := wire.MoneyFromProto(s.GetBalance(), a.Terms.Currency)
		if err != nil {
			return err
		}
		// A second look tells who was first where two print at once.
		for range 2 {
			issued, err := a.Store.Issues(ctx, tx, s.GetMember(), int(s.GetCropYear()))
			if err != nil {
				return err
			}
			if len(issued) > 0 && issued[0].Code == s.GetVerificationCode() {
				a.numbered(s, issued)
				return nil
			}
			next := domain.Issue{
				Member: s.GetMember(), CropYear: int(s.GetCropYear()), Serial: len(issued) + 1, Code: s.GetVerificationCode(), Balance: balance, Time: a.Clock.Now(),
			}
			if err := a.Store.InsertIssue(ctx, tx, next); err != nil {
				return err
			}
		}
		return nil
	})
}

// numbered puts the newest of the numbers on a statement whose content it is.
func (a *App) numbered(s *settlementv1.Statement, issued []domain.Issue) {
	if len(issued) == 0 || issued[0].Code != s.GetVerificationCode() {
		return
	}
	s.Number, s.Supersedes = issued[0].Number(), issued[0].Before()
	if len(issued) > 1 {
		s.PreviousBalance = wire.MoneyToProto(issued[1].Balance, a.Terms.Currency)
	}
}

// ListIssuedStatements lists what was put on paper for a member.
func (a *App) ListIssuedStatements(ctx context.Context, req *settlementv1.ListIssuedStatementsRequest) (*settlementv1.ListIssuedStatementsResponse, error) {
	if err := a.member(ctx, req.GetMember()); err != nil {
		return nil, err
	}
	issued, err := a.Store.Issues(ctx, a.DB.Pool(), req.GetMember(), 0)
	if err != nil {
		return nil, err
	}
	out := &settlementv1.ListIssuedStatementsResponse{}
	for n, i := range issued {
		row := &settlementv1.IssuedStatement{
			Number: i.Number(), Member: i.Member, CropYear: int32(i.CropYear), VerificationCode: i.Code, Balance: wire.MoneyToProto(i.Balance, a.Terms.Currency), //nolint:gosec // a year
			Supersedes: i.Before(), IssueTime: stamp(i.Time),
		}
		if n > 0 && issued[n-1].CropYear == i.CropYear {
			row.SupersededBy = issued[n-1].Number()
		}
		out.Statements = append(out.Statements, row)
	}
	return out, nil
}

// VerifyStatement says what the paper with a code must show.
func (a *App) VerifyStatement(ctx context.Context, req *settlementv1.VerifyStatementRequest) (*settlementv1.VerifyStatementResponse, error) {
	found, err := a.Store.IssuesByCode(ctx, a.DB.Pool(), req.GetVerificationCode())
	if err != nil {
		return nil, err
	}
	if len(found) == 0 {
		return &settlementv1.VerifyStatementResponse{Headline: "No statement with this code was printed here. Ask the office before you rely on it."}, nil
	}
	i := found[0]
	all, err := a.Store.Issues(ctx, a.DB.Pool(), i.Member, i.CropYear)
	if err != nil {
		return nil, err
	}
	out := &settlementv1.VerifyStatementResponse{
		Genuine: true, Number: i.Number(), CropYear: int32(i.CropYear), Balance: wire.MoneyToProto(i.Balance, a.Terms.Currency), //nolint:gosec // a year
		IssueDate: string(a.date(i.Time)), Superseded: all[0].Serial > i.Serial,
	}
	out.Headline = verdict(out, i.Balance, a.Terms)
	return out, nil
}

func verdict(v *settlementv1.VerifyStatementResponse, balance quantity.Money, terms domain.Terms) string {
	text := "Statement " + v.GetNumber() + " was printed here on " + v.GetIssueDate() + " with a balance of " + terms.Money(balance) + "."
	if v.GetSuperseded() {
		text += " A later one has taken its place."
	}
	return text
}
