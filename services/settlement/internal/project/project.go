// Package project takes in the facts of intake, grading and inventory: it keeps them in the read tables and has the barrels
// they concern decided about anew.
package project

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

// Tables are the read tables, one feed's each.
type Tables interface {
	KeepMember(ctx context.Context, tx pgx.Tx, member, displayName string) error
	KeepSample(ctx context.Context, tx pgx.Tx, sample string, barrel uuid.UUID) error
	KeepBarrels(ctx context.Context, tx pgx.Tx, barrels []domain.Weighed) error
	KeepContainers(ctx context.Context, tx pgx.Tx, c domain.Containers) error
	WithdrawTicket(ctx context.Context, tx pgx.Tx, ticket uuid.UUID) ([]uuid.UUID, error)
	KeepCertificate(ctx context.Context, tx pgx.Tx, g domain.Graded) error
	KeepReweigh(ctx context.Context, tx pgx.Tx, barrel uuid.UUID, c domain.Correction) error
	KeepTare(ctx context.Context, tx pgx.Tx, barrel uuid.UUID, c domain.Correction) error
	DoubtWeights(ctx context.Context, tx pgx.Tx, review uuid.UUID, barrels []uuid.UUID, words string) error
	TrustWeights(ctx context.Context, tx pgx.Tx, review uuid.UUID) ([]uuid.UUID, error)
	DoubtResults(ctx context.Context, tx pgx.Tx, control string, certificates []uuid.UUID, words string) error
	TrustResults(ctx context.Context, tx pgx.Tx, control string) ([]string, error)
	KeepFee(ctx context.Context, tx pgx.Tx, f domain.RefereeFee) error
	KeepHold(ctx context.Context, tx pgx.Tx, hold, barrel uuid.UUID, code string, placed time.Time, released bool) error
	KeepSalePart(ctx context.Context, tx pgx.Tx, s *pool.SalePart) error
}

// Settler decides about barrels and charges deposits.
type Settler interface {
	Deposit(ctx context.Context, tx pgx.Tx, e *domain.MemberEntry) ([]feed.Fact, error)
	Turn(ctx context.Context, tx pgx.Tx) error
	Settle(ctx context.Context, tx pgx.Tx, barrels ...uuid.UUID) ([]feed.Fact, error)
	SettleSample(ctx context.Context, tx pgx.Tx, sample string) ([]feed.Fact, error)
}

// Project applies the neighbours' feeds.
type Project struct {
	Tables  Tables
	Settler Settler
	Terms   domain.Terms
	// Tare says what the weight of an emptied drum changes.
	Tare domain.TarePolicy
}

// settle has barrels decided about, except when read tables are filled again: what once followed has been done.
func (p *Project) settle(ctx context.Context, tx pgx.Tx, barrels []uuid.UUID) ([]feed.Fact, error) {
	if feed.Rebuilding(ctx) {
		return nil, nil
	}
	return p.Settler.Settle(ctx, tx, barrels...)
}

// identity reads "collection/{uuid}".
func identity(name, collection string) (uuid.UUID, error) {
	text, found := strings.CutPrefix(name, collection+"/")
	if !found {
		return uuid.UUID{}, fmt.Errorf("%q is not the name of one of %s", name, collection)
	}
	id, err := uuid.Parse(text)
	if err != nil {
		return uuid.UUID{}, fmt.Errorf("read %q: %w", name, err)
	}
	return id, nil
}
