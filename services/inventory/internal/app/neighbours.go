package app

import (
	"context"

	"github.com/google/uuid"

	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// Neighbours is where the facts of intake and grading are kept, and the holds that follow from them.
type Neighbours interface {
	// PutBarrel notes a barrel as its live ticket says it is.
	PutBarrel(ctx context.Context, q pg.Querier, i stock.Item) error
	// PutOwners notes who shares a barrel by its live ticket; nobody where its member owns all of it.
	PutOwners(ctx context.Context, q pg.Querier, barrel uuid.UUID, members []string) error
	// PutClaims notes what the live ticket of a barrel claims of it.
	PutClaims(ctx context.Context, q pg.Querier, barrel uuid.UUID, claims []stock.Claim) error
	// Withdraw notes that the barrels of a ticket count no more.
	Withdraw(ctx context.Context, q pg.Querier, ticket uuid.UUID) error
	// PutSample notes where a blind sample was drawn.
	PutSample(ctx context.Context, q pg.Querier, sample string, barrel uuid.UUID) error
	// DrawnFrom finds the barrels of blind samples; one that is not known yet is left out.
	DrawnFrom(ctx context.Context, q pg.Querier, samples []string) (map[string]uuid.UUID, error)
	// PutCertificate notes the certificate that stands for a sample from now on.
	PutCertificate(ctx context.Context, q pg.Querier, c stock.Certificate) error
	// Lock reads one barrel and keeps every move and hold of it waiting until the transaction ends.
	Lock(ctx context.Context, q pg.Querier, barrel uuid.UUID) (stock.Item, error)
	// OpenHolds lists what holds a barrel, known yet or not.
	OpenHolds(ctx context.Context, q pg.Querier, barrel uuid.UUID) ([]stock.Hold, error)
	// LockFlow keeps honey from moving anywhere until the transaction ends.
	LockFlow(ctx context.Context, q pg.Querier) error
}

// Holder places and ends holds with all that follows from them; the flow of honey must be locked.
type Holder interface {
	AddHold(ctx context.Context, q pg.Querier, h stock.Hold) ([]feed.Fact, error)
	EndHold(ctx context.Context, q pg.Querier, h stock.Hold, by stock.Release) (stock.Hold, []feed.Fact, error)
}
