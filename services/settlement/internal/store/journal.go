package store

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/ledger"
)

var journalFields = []string{"source", "entry_date", "description", "accounts", "amounts", "record_time"}

// InsertJournal saves entries in order.
func (Store) InsertJournal(ctx context.Context, tx pgx.Tx, entries []*ledger.Entry) error {
	rows := make([][]any, 0, len(entries))
	for _, e := range entries {
		accounts, amounts := make([]string, len(e.Postings)), make([]int64, len(e.Postings))
		for i, p := range e.Postings {
			accounts[i], amounts[i] = p.Account, int64(p.Amount)
		}
		rows = append(rows, []any{e.Source, day(e.Date), e.Description, accounts, amounts, e.Time})
	}
	if len(rows) == 0 {
		return nil
	}
	if _, err := tx.CopyFrom(ctx, pgx.Identifier{"journal"}, journalFields, pgx.CopyFromRows(rows)); err != nil {
		return fmt.Errorf("save %d journal entries: %w", len(rows), err)
	}
	return nil
}

// Balances sums the journal by account up to a date, empty for all, and counts the entries.
func (Store) Balances(ctx context.Context, q pg.Querier, through domain.Date) ([]ledger.Balance, int64, error) {
	var entries int64
	const until = ` FROM journal WHERE $1 = '' OR entry_date <= nullif($1, '')::date`
	if err := q.QueryRow(ctx, `SELECT count(*)`+until, through).Scan(&entries); err != nil {
		return nil, 0, fmt.Errorf("count the journal: %w", err)
	}
	balances, err := collect(ctx, q, "sum the journal", `SELECT account, sum(amount)::bigint FROM (
		SELECT unnest(accounts) AS account, unnest(amounts) AS amount`+until+`) p GROUP BY account HAVING sum(amount) <> 0 ORDER BY account COLLATE "C"`,
		pgx.RowToStructByPos[ledger.Balance], through)
	return balances, entries, err
}

func scanJournal(row pgx.CollectableRow) (*ledger.Entry, error) {
	var e ledger.Entry
	var accounts []string
	var amounts []quantity.Money
	err := row.Scan(&e.Number, &e.Source, &e.Date, &e.Description, &accounts, &amounts, &e.Time)
	for i := range accounts {
		e.Postings = append(e.Postings, ledger.Posting{Account: accounts[i], Amount: amounts[i]})
	}
	return &e, err
}

// Journal gives entries by date and order of making, after a date and number, up to a date; empty for all.
func (Store) Journal(ctx context.Context, q pg.Querier, after domain.Date, number int64, through domain.Date, limit int) ([]*ledger.Entry, error) {
	return collect(ctx, q, "read the journal", `SELECT entry, source, `+date("entry_date")+`, description, accounts, amounts, record_time FROM journal
		WHERE (entry_date, entry) > (coalesce(nullif($1, ''), '0001-01-01')::date, $2) AND ($3 = '' OR entry_date <= nullif($3, '')::date)
		ORDER BY entry_date, entry LIMIT $4`, scanJournal, after, number, through, limit)
}

// Owed is what each member is owed by payouts and payments, reached without the journal, up to a date, empty for all.
func (Store) Owed(ctx context.Context, q pg.Querier, through domain.Date) (map[string]quantity.Money, error) {
	rows, err := q.Query(ctx, `SELECT member, sum(amount)::bigint FROM member_movement JOIN journal USING (source)
		WHERE $1 = '' OR entry_date <= nullif($1, '')::date GROUP BY member`, through)
	if err != nil {
		return nil, fmt.Errorf("sum what members are owed: %w", err)
	}
	owed := map[string]quantity.Money{}
	var member string
	var amount quantity.Money
	_, err = pgx.ForEachRow(rows, []any{&member, &amount}, func() error {
		owed[member] += amount
		return nil
	})
	return owed, wrap("sum what members are owed", err)
}
