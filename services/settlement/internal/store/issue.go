package store

import (
	"context"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain"
)

const issueColumns = `member, crop_year, serial, code, balance, issue_time FROM statement_issue`

func scanIssue(row pgx.CollectableRow) (domain.Issue, error) {
	var i domain.Issue
	err := row.Scan(&i.Member, &i.CropYear, &i.Serial, &i.Code, &i.Balance, &i.Time)
	return i, err
}

// InsertIssue saves that a statement was put on paper; one of the same number that somebody else saved first stays.
func (Store) InsertIssue(ctx context.Context, tx pgx.Tx, i domain.Issue) error {
	return exec(ctx, tx, "save the statement's number", `INSERT INTO statement_issue (member, crop_year, serial, code, balance, issue_time)
		VALUES ($1, $2, $3, $4, $5, $6) ON CONFLICT DO NOTHING`, i.Member, i.CropYear, i.Serial, i.Code, i.Balance, i.Time)
}

// Issues are a member's statements on paper, newest first; crop year 0 is all.
func (Store) Issues(ctx context.Context, q pg.Querier, member string, cropYear int) ([]domain.Issue, error) {
	return collect(ctx, q, "read the statements on paper", `SELECT `+issueColumns+` WHERE member = $1 AND ($2 = 0 OR crop_year = $2)
		ORDER BY crop_year DESC, serial DESC`, scanIssue, member, cropYear)
}

// IssuesByCode are the statements with a code, newest first.
func (Store) IssuesByCode(ctx context.Context, q pg.Querier, code string) ([]domain.Issue, error) {
	return collect(ctx, q, "look up the code", `SELECT `+issueColumns+` WHERE code = $1 ORDER BY issue_time DESC`, scanIssue, code)
}
