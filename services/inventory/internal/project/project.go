// Package project takes in what intake and grading committed. Each applier writes tables of its own, so the order in
// which the two feeds arrive does not matter, and a rebuild fills them the same again.
package project

import (
	"context"
	"fmt"
	"strings"

	"github.com/google/uuid"

	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
)

// Project applies the neighbours' events.
type Project struct {
	// Unit is the cooperative's.
	Unit  quantity.Unit
	Store app.Neighbours
	Holds app.Holder
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

// held records a hold as if a person had placed it: while no honey moves. A barrel whose ticket is not closed yet cannot be
// moved by anybody, and will be held when it appears.
func (p Project) held(ctx context.Context, q pg.Querier, h stock.Hold) ([]feed.Fact, error) {
	if err := p.Store.LockFlow(ctx, q); err != nil {
		return nil, err //nolint:wrapcheck // says what it is
	}
	return p.Holds.AddHold(ctx, q, h) //nolint:wrapcheck // says what it is
}
