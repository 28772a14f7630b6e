package store

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain/loan"
)

var loanColumns = `l.loan, l.place, l.number, l.member, l.purpose, l.principal, l.annual_rate, l.day_count, l.deduction, l.authority, l.proposer, l.propose_time,
	coalesce(` + date("a.start_date") + `, ''), coalesce(a.resolution, ''), coalesce(a.approver, ''), a.approve_time
	FROM loan l LEFT JOIN loan_approval a USING (loan)`

func scanLoan(row pgx.CollectableRow) (*loan.Loan, error) {
	var l loan.Loan
	err := row.Scan(&l.ID, &l.Place, &l.Number, &l.Member, &l.Purpose, &l.Principal, &l.Rate, &l.DayCount, &l.Deduction, &l.Authority, &l.Proposer, &l.ProposeTime,
		&l.Start, &l.Resolution, &l.Approver, &l.ApproveTime)
	return &l, err
}

type loanEntry struct {
	loan  uuid.UUID
	entry loan.Entry
}

func scanLoanEntry(row pgx.CollectableRow) (loanEntry, error) {
	var x loanEntry
	var batch *uuid.UUID
	e := &x.entry
	err := row.Scan(&x.loan, &e.ID, &e.Kind, &e.Interest, &e.Principal, &e.Date, &e.Document, &batch, &e.Recorder, &e.Time)
	e.Batch = orZero(batch)
	return x, err
}

// fillEntries adds the entries of loans.
func (Store) fillEntries(ctx context.Context, q pg.Querier, loans []*loan.Loan) error {
	if len(loans) == 0 {
		return nil
	}
	ids, byID := make([]uuid.UUID, len(loans)), map[uuid.UUID]*loan.Loan{}
	for i, l := range loans {
		ids[i], byID[l.ID] = l.ID, l
	}
	entries, err := collect(ctx, q, "read the entries of loans", `SELECT loan, entry, kind, interest, principal, `+date("entry_date")+`, document, batch, recorder, record_time
		FROM loan_entry WHERE loan = ANY($1) ORDER BY place`, scanLoanEntry, ids)
	for _, x := range entries {
		l := byID[x.loan]
		l.Entries = append(l.Entries, x.entry)
	}
	return err
}

func (s Store) loans(ctx context.Context, q pg.Querier, where string, args ...any) ([]*loan.Loan, error) {
	found, err := collect(ctx, q, "read the loans", `SELECT `+loanColumns+` `+where, scanLoan, args...)
	if err != nil {
		return nil, err
	}
	return found, s.fillEntries(ctx, q, found)
}

// InsertLoan saves a proposal.
func (Store) InsertLoan(ctx context.Context, tx pgx.Tx, l *loan.Loan) error {
	return exec(ctx, tx, "save the loan", `INSERT INTO loan
		(loan, number, member, purpose, principal, annual_rate, day_count, deduction, authority, proposer, propose_time) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`,
		l.ID, l.Number, l.Member, int16(l.Purpose), l.Principal, l.Rate, int16(l.DayCount), l.Deduction, l.Authority, l.Proposer, l.ProposeTime) //nolint:gosec // one of few
}

// InsertLoanApproval saves the board's word.
func (Store) InsertLoanApproval(ctx context.Context, tx pgx.Tx, l *loan.Loan) error {
	return exec(ctx, tx, "save the approval", `INSERT INTO loan_approval (loan, start_date, resolution, approver, approve_time) VALUES ($1, $2, $3, $4, $5)`,
		l.ID, day(l.Start), l.Resolution, l.Approver, l.ApproveTime)
}

// InsertLoanEntries saves entries of a loan in order.
func (Store) InsertLoanEntries(ctx context.Context, tx pgx.Tx, id uuid.UUID, entries ...loan.Entry) error {
	b := &pgx.Batch{}
	for i := range entries {
		e := &entries[i]
		b.Queue(`INSERT INTO loan_entry (entry, loan, kind, interest, principal, entry_date, document, batch, recorder, record_time)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`,
			e.ID, id, int16(e.Kind), e.Interest, e.Principal, day(e.Date), e.Document, some(e.Batch), e.Recorder, e.Time) //nolint:gosec // one of few
	}
	return wrap("save the entries of a loan", tx.SendBatch(ctx, b).Close())
}

// CountLoans is how many loans were proposed in a year, by the number. The gate must be held.
func (Store) CountLoans(ctx context.Context, tx pgx.Tx, year string) (int, error) {
	var n int
	err := tx.QueryRow(ctx, `SELECT count(*) FROM loan WHERE number LIKE 'L-' || $1 || '-%'`, year).Scan(&n)
	return n, wrap("count the loans", err)
}

// Loan is one loan with its entries, or none.
func (s Store) Loan(ctx context.Context, q pg.Querier, id uuid.UUID) ([]*loan.Loan, error) {
	return s.loans(ctx, q, `WHERE l.loan = $1`, id)
}

// ListLoans gives loans, newest first, beginning before place; 0 begins at the newest, an empty member is all.
func (s Store) ListLoans(ctx context.Context, q pg.Querier, member string, before int64, limit int) ([]*loan.Loan, error) {
	return s.loans(ctx, q, `WHERE ($1 = '' OR l.member = $1) AND ($2 = 0 OR l.place < $2) ORDER BY l.place DESC LIMIT $3`, member, before, limit)
}

// LentLoans are the approved loans of a member, or of all for "", the oldest first.
func (s Store) LentLoans(ctx context.Context, q pg.Querier, member string) ([]*loan.Loan, error) {
	return s.loans(ctx, q, `WHERE a.loan IS NOT NULL AND ($1 = '' OR l.member = $1) ORDER BY l.place`, member)
}
