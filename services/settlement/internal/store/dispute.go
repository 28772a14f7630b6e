package store

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain"
)

var disputeColumns = `d.dispute, d.place, d.number, d.member, d.payout, d.line, d.question, d.asker, d.ask_time, ` + date("d.due_date") + `,
	coalesce(a.answer, ''), coalesce(a.outcome, 0), coalesce(a.answerer, ''), a.answer_time
	FROM dispute d LEFT JOIN dispute_answer a USING (dispute)`

func scanDispute(row pgx.CollectableRow) (*domain.Dispute, error) {
	var d domain.Dispute
	err := row.Scan(&d.ID, &d.Place, &d.Number, &d.Member, &d.Payout, &d.Line, &d.Question, &d.Asker, &d.AskTime, &d.Due,
		&d.Answer, &d.Outcome, &d.Answerer, &d.AnswerTime)
	return &d, err
}

// InsertDispute saves a question.
func (Store) InsertDispute(ctx context.Context, tx pgx.Tx, d *domain.Dispute) error {
	return exec(ctx, tx, "save the question", `INSERT INTO dispute (dispute, number, member, payout, line, question, asker, ask_time, due_date)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`, d.ID, d.Number, d.Member, d.Payout, d.Line, d.Question, d.Asker, d.AskTime, day(d.Due))
}

// InsertDisputeAnswer saves the answer.
func (Store) InsertDisputeAnswer(ctx context.Context, tx pgx.Tx, d *domain.Dispute) error {
	return exec(ctx, tx, "save the answer", `INSERT INTO dispute_answer (dispute, answer, outcome, answerer, answer_time) VALUES ($1, $2, $3, $4, $5)`,
		d.ID, d.Answer, d.Outcome, d.Answerer, d.AnswerTime)
}

// CountDisputes is how many questions a year has had, by the number. The gate must be held.
func (Store) CountDisputes(ctx context.Context, tx pgx.Tx, year string) (int, error) {
	var n int
	err := tx.QueryRow(ctx, `SELECT count(*) FROM dispute WHERE number LIKE 'D-' || $1 || '-%'`, year).Scan(&n)
	return n, wrap("count the questions", err)
}

// Dispute is one question, or nil.
func (Store) Dispute(ctx context.Context, q pg.Querier, id uuid.UUID) (*domain.Dispute, error) {
	return one(ctx, q, "read the question", `SELECT `+disputeColumns+` WHERE d.dispute = $1`, scanDispute, id)
}

// ListDisputes gives questions, oldest first, after place; an empty member is all.
func (Store) ListDisputes(ctx context.Context, q pg.Querier, member string, openOnly bool, after int64, limit int) ([]*domain.Dispute, error) {
	return collect(ctx, q, "list the questions", `SELECT `+disputeColumns+`
		WHERE ($1 = '' OR d.member = $1) AND (NOT $2 OR a.dispute IS NULL) AND d.place > $3 ORDER BY d.place LIMIT $4`, scanDispute, member, openOnly, after, limit)
}
