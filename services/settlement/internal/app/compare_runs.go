package app

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

// mostChanges are listed; whoever gets more looks at the totals first.
const mostChanges = 1000

// CompareRuns says what changed from one run to another, and why.
func (a *App) CompareRuns(ctx context.Context, req *settlementv1.CompareRunsRequest) (*settlementv1.RunComparison, error) {
	later, err := a.run(ctx, a.DB.Pool(), req.GetName())
	if err != nil {
		return nil, err
	}
	earlier, err := a.earlier(ctx, later, req.GetBase())
	if err != nil {
		return nil, err
	}
	before, was, err := a.recall(ctx, earlier)
	if err != nil {
		return nil, err
	}
	after, is, err := a.recall(ctx, later)
	if err != nil {
		return nil, err
	}
	if err := a.recallChanged(ctx, earlier, later, map[uuid.UUID]*pool.Input{earlier.ID: &before, later.ID: &after},
		map[uuid.UUID]*pool.Result{earlier.ID: was, later.ID: is}); err != nil {
		return nil, err
	}
	out := &settlementv1.RunComparison{Base: earlier.Name(), Name: later.Name()}
	entries, err := a.Store.PoolEntries(ctx, a.DB.Pool(), later.Pool, 0, 0)
	if err != nil {
		return nil, err
	}
	c := pool.Compare(a.Terms, before, after, was, is)
	listed := c.Changes[:min(len(c.Changes), mostChanges)]
	out.ChangesLeftOut = int32(len(c.Changes) - len(listed)) //nolint:gosec // a count of barrels
	barrels, err := a.labelsOf(ctx, listed)
	if err != nil {
		return nil, err
	}
	said := map[string]string{}
	for _, e := range entries {
		said[e.Name()] = fmt.Sprintf("%s (%s)", e.Description, e.Document)
	}
	for _, change := range listed {
		row := &settlementv1.RunChange{Subject: change.Subject, Cause: change.Cause, Title: cmp.Or(said[change.Subject], change.Subject)}
		if b, known := barrels[change.Subject]; known {
			row.Title, row.Ticket = b.String(), "tickets/"+b.Ticket.String()
		}
		if change.Difference != nil {
			row.Difference = wire.MoneyToProto(*change.Difference, a.Terms.Currency)
		}
		out.Changes = append(out.Changes, row)
	}
	for _, m := range c.Members {
		out.Members = append(out.Members, &settlementv1.RunMemberChange{
			Member: m.Member, Before: wire.MoneyToProto(m.Before, a.Terms.Currency), After: wire.MoneyToProto(m.After, a.Terms.Currency),
		})
	}
	return out, nil
}

// labelsOf are what people call the barrels among these changes.
func (a *App) labelsOf(ctx context.Context, changes []pool.Change) (map[string]domain.BarrelLabel, error) {
	var barrels []uuid.UUID
	for _, change := range changes {
		if id, is := strings.CutPrefix(change.Subject, "barrels/"); is {
			barrel, err := uuid.Parse(id)
			if err != nil {
				return nil, fmt.Errorf("read %s: %w", change.Subject, err)
			}
			barrels = append(barrels, barrel)
		}
	}
	found, err := a.Store.BarrelLabels(ctx, a.DB.Pool(), barrels)
	labels := map[string]domain.BarrelLabel{}
	for _, label := range found {
		labels["barrels/"+label.Barrel.String()] = label
	}
	return labels, err
}

// recall reads a run with its members and none of its barrels.
func (a *App) recall(ctx context.Context, r *pool.Run) (pool.Input, *pool.Result, error) {
	head, summary, err := r.Read()
	if err != nil {
		return pool.Input{}, nil, err
	}
	members, err := a.Store.RunMembers(ctx, a.DB.Pool(), r.ID, "", 0)
	return head.With(nil), &pool.Result{Summary: *summary, Members: members}, err
}

// recallChanged reads the barrels whose inputs differ between two runs; of a million, most do not.
func (a *App) recallChanged(ctx context.Context, earlier, later *pool.Run, inputs map[uuid.UUID]*pool.Input, results map[uuid.UUID]*pool.Result) error {
	together := map[uuid.UUID]*pool.Gathering{}
	for id, in := range inputs {
		together[id] = &pool.Gathering{Each: func(b *pool.Barrel, parts []pool.Kept) error {
			kept := *b
			kept.Owners = slices.Clone(b.Owners)
			in.Barrels = append(in.Barrels, kept)
			for _, p := range parts {
				results[id].Lines = append(results[id].Lines, pool.Line{Barrel: p.Barrel, Member: p.Member, Value: p.Value, Credited: p.Credited, Odd: p.Odd})
			}
			return nil
		}}
	}
	err := a.Store.ChangedLines(ctx, a.DB.Pool(), earlier.ID, later.ID, func(run uuid.UUID, k *pool.Kept) error { return together[run].Add(*k) })
	for _, g := range together {
		err = errors.Join(err, g.End())
	}
	return err
}

// earlier is the run named, or the one calculated just before.
func (a *App) earlier(ctx context.Context, later *pool.Run, name string) (*pool.Run, error) {
	if name == "" {
		found, err := a.Store.ListRuns(ctx, a.DB.Pool(), later.Pool, later.Place, 1)
		if err != nil {
			return nil, err
		}
		if len(found) == 0 {
			return nil, apierr.State(later.Name(), "FIRST", "run "+later.Number+" is the first of its pool; there is none to compare it with")
		}
		name = found[0].Name()
	}
	r, err := a.run(ctx, a.DB.Pool(), name)
	if err != nil {
		return nil, err
	}
	if r.Pool != later.Pool {
		return nil, apierr.Field("base", "is a run of another pool; compare runs of one pool")
	}
	return r, nil
}
