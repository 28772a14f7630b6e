// Package store keeps samples, readings and certificates in PostgreSQL. It decides nothing: rules are the domain's, the
// order of steps the app's. Readings and certificates are only ever added; the service role has no right to change them.
package store

import (
	"errors"
	"fmt"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/grading/internal/domain"
)

// Store has no state of its own.
type Store struct{}

// orNotFound turns an empty answer into the refusal a caller reads, and names the operation on anything else.
func orNotFound(err error, operation string, missing *domain.NotFoundError) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, pgx.ErrNoRows):
		return missing
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
