package store

import (
	"bytes"
	"context"
	"fmt"
	"slices"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

// ChangedLines hands out the lines of the barrels whose inputs differ between two runs, or that only one of them has, those of
// each run in their order. It reads both side by side and holds one piece of each.
func (Store) ChangedLines(ctx context.Context, q pg.Querier, one, other uuid.UUID, each func(run uuid.UUID, k *pool.Kept) error) error {
	before, after := &runReader{q: q, run: one, known: names{}}, &runReader{q: q, run: other, known: names{}}
	for _, r := range []*runReader{before, after} {
		if err := r.step(ctx); err != nil {
			return err
		}
	}
	for len(before.parts) > 0 || len(after.parts) > 0 {
		order := before.compare(after)
		changed := order != 0 || !slices.EqualFunc(before.parts, after.parts, sameInputs)
		for _, r := range []*runReader{before, after} {
			if r == before && order > 0 || r == after && order < 0 {
				continue // its barrel's turn comes later
			}
			for i := 0; changed && i < len(r.parts); i++ {
				if err := each(r.run, &r.parts[i]); err != nil {
					return err
				}
			}
			if err := r.step(ctx); err != nil {
				return err
			}
		}
	}
	return nil
}

// sameInputs compares what went into two lines, and not what came out.
func sameInputs(a, b pool.Kept) bool {
	a.Value, a.Odd, a.Place = b.Value, b.Odd, b.Place
	return a == b
}

// runReader reads a run barrel by barrel, each piece by a query of its own: so it needs no connection between them.
type runReader struct {
	q     pg.Querier
	run   uuid.UUID
	known names
	piece int
	lines []pool.Kept
	// parts are the lines of the barrel it stands at; none at the end.
	parts []pool.Kept
}

// compare tells whose barrel comes first: below zero where it is this one's.
func (r *runReader) compare(other *runReader) int {
	switch {
	case len(other.parts) == 0:
		return -1
	case len(r.parts) == 0:
		return 1
	}
	return bytes.Compare(r.parts[0].Barrel[:], other.parts[0].Barrel[:])
}

// step goes on to the next barrel, whose lines may end in the next piece.
func (r *runReader) step(ctx context.Context) error {
	for r.parts = r.parts[:0]; ; r.lines = r.lines[1:] {
		if len(r.lines) == 0 {
			if err := r.fetch(ctx); err != nil || len(r.lines) == 0 {
				return err
			}
		}
		if len(r.parts) > 0 && r.parts[0].Barrel != r.lines[0].Barrel {
			return nil
		}
		r.parts = append(r.parts, r.lines[0])
	}
}

func (r *runReader) fetch(ctx context.Context) error {
	rows, err := r.q.Query(ctx, `SELECT `+pieceArrays+` FROM run_piece WHERE run = $1 AND piece = $2`, r.run, r.piece)
	if err != nil {
		return fmt.Errorf("read the lines of a run: %w", err)
	}
	defer rows.Close()
	r.lines = make([]pool.Kept, 0, pieceLines)
	for rows.Next() {
		r.piece++
		if err := eachOfPiece(rows.RawValues(), r.known, func(k *pool.Kept) error {
			r.lines = append(r.lines, *k)
			return nil
		}); err != nil {
			return err
		}
	}
	return wrap("read the lines of a run", rows.Err())
}
