// Package project takes in what intake and grading committed. Each applier writes tables of its own, so the order in
// which the two feeds arrive does not matter, and a rebuild fills them the same again.
package project

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/google/uuid"

	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
)

// Project applies the neighbours' events.
type Project struct {
	// Unit is the cooperative's.
	Unit  quantity.Unit
	Store app.Neighbours
}

// id is the uuid of a resource name such as "barrels/…".
func id(collection, name string) (uuid.UUID, error) {
	rest, ok := strings.CutPrefix(name, collection+"/")
	if !ok {
		return uuid.UUID{}, fmt.Errorf("%q is not a name in %s", name, collection)
	}
	parsed, err := uuid.Parse(rest)
	if err != nil {
		return uuid.UUID{}, fmt.Errorf("read %q: %w", name, err)
	}
	return parsed, nil
}

// held records a hold as if a person had placed it: behind the barrel's lock, so that no move overlaps it. A barrel whose
// ticket is not closed yet cannot be moved by anybody, and will be held when it appears.
func (p Project) held(ctx context.Context, q pg.Querier, h stock.Hold) (bool, error) {
	if err := p.lock(ctx, q, h.Barrel); err != nil {
		return false, err
	}
	return p.Store.AddHold(ctx, q, h)
}

// lock is taken before a barrel is held or freed; one that is not known yet has nothing to lock.
func (p Project) lock(ctx context.Context, q pg.Querier, barrel uuid.UUID) error {
	_, err := p.Store.Lock(ctx, q, barrel)
	if _, unknown := errors.AsType[*stock.NotFoundError](err); err != nil && !unknown {
		return fmt.Errorf("hold barrel: %w", err)
	}
	return nil
}
