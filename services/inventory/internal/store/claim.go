package store

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/pg"
)

// PutClaims notes what the live ticket of a barrel claims of it, in place of what one before did.
func (Store) PutClaims(ctx context.Context, q pg.Querier, barrel uuid.UUID, claims []stock.Claim) error {
	if _, err := q.Exec(ctx, `DELETE FROM barrel_claim WHERE barrel = $1`, barrel); err != nil {
		return fmt.Errorf("replace claims: %w", err)
	}
	for _, c := range claims {
		if _, err := q.Exec(ctx, `INSERT INTO barrel_claim (barrel, claim, evidence, ticket) VALUES ($1, $2, $3, $4)`,
			barrel, c.Name, c.Declared.Evidence, c.Declared.Ticket); err != nil {
			return fmt.Errorf("note claim: %w", err)
		}
	}
	return nil
}

// AddClaimTest records a test.
func (Store) AddClaimTest(ctx context.Context, q pg.Querier, t stock.ClaimTest) error {
	_, err := q.Exec(ctx, `
		INSERT INTO claim_test (claim_test, barrel, claim, outcome, report, method, recorder, record_time)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`, t.ID, t.Barrel, t.Claim, t.Outcome, t.Report, t.Method, t.Recorder, t.Time)
	return wrap("record claim test", err)
}

// AddClaimApproval records an approval.
func (Store) AddClaimApproval(ctx context.Context, q pg.Querier, a stock.ClaimApproval) error {
	_, err := q.Exec(ctx, `
		INSERT INTO claim_approval (claim_approval, barrel, claim, evidence, ticket, approver, approve_time)
		VALUES ($1, $2, $3, $4, $5, $6, $7)`, a.ID, a.Barrel, a.Claim, a.Evidence, a.Ticket, a.Approver, a.Time)
	return wrap("approve claim", err)
}

// AddClaimWithdrawal records the end of an approval.
func (Store) AddClaimWithdrawal(ctx context.Context, q pg.Querier, a stock.ClaimApproval) error {
	_, err := q.Exec(ctx, `INSERT INTO claim_withdrawal (claim_approval, withdrawer, reason, withdraw_time) VALUES ($1, $2, $3, $4)`,
		a.ID, a.Withdrawn.Withdrawer, a.Withdrawn.Reason, a.Withdrawn.Time)
	return wrap("withdraw claim", err)
}

// Claimed lists the barrels a claim stands approved for, what was filled from them included.
func (Store) Claimed(ctx context.Context, q pg.Querier, claim string) ([]uuid.UUID, error) {
	rows, err := q.Query(ctx, `
		SELECT h.barrel FROM barrel_claim d
		JOIN (SELECT DISTINCT ON (barrel) barrel, ticket, claim_approval FROM claim_approval WHERE claim = $1 ORDER BY barrel, number DESC) a
		     ON a.barrel = d.barrel AND a.ticket = d.ticket
		LEFT JOIN claim_withdrawal w USING (claim_approval)
		JOIN holding h ON h.root = d.barrel
		WHERE d.claim = $1 AND w.claim_approval IS NULL`, claim)
	if err != nil {
		return nil, fmt.Errorf("list barrels by claim: %w", err)
	}
	barrels, err := pgx.CollectRows(rows, pgx.RowTo[uuid.UUID])
	return barrels, wrap("list barrels by claim", err)
}

// attachClaims gives every barrel what is claimed of the one it was delivered in.
func (s Store) attachClaims(ctx context.Context, q pg.Querier, items []stock.Item) error {
	roots := make([]uuid.UUID, len(items))
	for n, i := range items {
		roots[n] = i.Root
	}
	found := claims{}
	for _, read := range []func(context.Context, pg.Querier, []uuid.UUID) error{found.declared, found.tested, found.approved} {
		if err := read(ctx, q, roots); err != nil {
			return err
		}
	}
	for n := range items {
		for _, c := range found[items[n].Root] {
			items[n].Claims = append(items[n].Claims, *c)
		}
		slices.SortFunc(items[n].Claims, func(a, b stock.Claim) int { return cmp.Compare(a.Name, b.Name) })
	}
	return nil
}

// claims are those of delivered barrels by name.
type claims map[uuid.UUID]map[string]*stock.Claim

func (c claims) of(barrel uuid.UUID, name string) *stock.Claim {
	if c[barrel] == nil {
		c[barrel] = map[string]*stock.Claim{}
	}
	if c[barrel][name] == nil {
		c[barrel][name] = &stock.Claim{Name: name}
	}
	return c[barrel][name]
}

func (c claims) declared(ctx context.Context, q pg.Querier, barrels []uuid.UUID) error {
	rows, err := q.Query(ctx, `SELECT barrel, claim, evidence, ticket FROM barrel_claim WHERE barrel = ANY($1)`, barrels)
	if err != nil {
		return err
	}
	var barrel uuid.UUID
	var name string
	var d stock.Declared
	_, err = pgx.ForEachRow(rows, []any{&barrel, &name, &d.Evidence, &d.Ticket}, func() error {
		one := d
		c.of(barrel, name).Declared = &one
		return nil
	})
	return err
}

func (c claims) tested(ctx context.Context, q pg.Querier, barrels []uuid.UUID) error {
	rows, err := q.Query(ctx, `
		SELECT DISTINCT ON (barrel, claim) claim_test, barrel, claim, outcome, report, method, recorder, record_time
		FROM claim_test WHERE barrel = ANY($1) ORDER BY barrel, claim, number DESC`, barrels)
	if err != nil {
		return err
	}
	var t stock.ClaimTest
	_, err = pgx.ForEachRow(rows, []any{&t.ID, &t.Barrel, &t.Claim, &t.Outcome, &t.Report, &t.Method, &t.Recorder, &t.Time}, func() error {
		one := t
		one.Time = utc(t.Time)
		c.of(one.Barrel, one.Claim).Tested = &one
		return nil
	})
	return err
}

func (c claims) approved(ctx context.Context, q pg.Querier, barrels []uuid.UUID) error {
	rows, err := q.Query(ctx, `
		SELECT DISTINCT ON (a.barrel, a.claim) a.claim_approval, a.barrel, a.claim, a.evidence, a.ticket, a.approver, a.approve_time,
		       w.withdrawer, w.reason, w.withdraw_time
		FROM claim_approval a LEFT JOIN claim_withdrawal w USING (claim_approval)
		WHERE a.barrel = ANY($1) ORDER BY a.barrel, a.claim, a.number DESC`, barrels)
	if err != nil {
		return err
	}
	var a stock.ClaimApproval
	var withdrawer, reason *string
	var ended *time.Time
	_, err = pgx.ForEachRow(rows, []any{&a.ID, &a.Barrel, &a.Claim, &a.Evidence, &a.Ticket, &a.Approver, &a.Time, &withdrawer, &reason, &ended}, func() error {
		one := a
		one.Time = utc(a.Time)
		if withdrawer != nil {
			one.Withdrawn = &stock.Withdrawal{Withdrawer: *withdrawer, Reason: *reason, Time: utc(*ended)}
		}
		c.of(one.Barrel, one.Claim).Approved = &one
		return nil
	})
	return err
}
