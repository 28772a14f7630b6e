// Package store keeps tickets, barrels, scales and members in PostgreSQL. Every method runs on the connection or
// transaction it is given and decides nothing: rules are the domain's, order of steps the app's.
//
// Locks are taken in this order: scales by id, drum, ticket row, number counter, then whatever is inserted. Scales and drums
// are advisory locks, shared by weighings and exclusive for checks and releases.
package store

import (
	"errors"
	"fmt"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/intake/internal/domain"
)

// Store has no state of its own.
type Store struct{}

// orNotFound turns an empty answer into the refusal a caller reads, and names the operation on anything else.
func orNotFound(err error, operation, resource string) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, pgx.ErrNoRows):
		return domain.NotFound(resource)
	default:
		return fmt.Errorf("%s: %w", operation, err)
	}
}

func wrap(err error, operation string) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("%s: %w", operation, err)
}

// orNull stores an empty text as NULL.
func orNull(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}
