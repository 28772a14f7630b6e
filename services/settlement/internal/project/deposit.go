package project

import (
	"context"
	"fmt"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain"
)

// depositSpace makes the identity of what a move of containers charges: a move charges once.
var depositSpace = uuid.MustParse("b1d6a9e4-7c35-5f08-8a12-3e6f90d4c7b8")

// containersMoved keeps what a member has out and charges the deposit.
func (p *Project) containersMoved(ctx context.Context, tx pgx.Tx, fact *intakev1.ContainersMoved) ([]feed.Fact, error) {
	if b := fact.GetBalance(); b != nil {
		c := domain.Containers{
			Member: fact.GetMove().GetMember(), Type: int(b.GetContainer()), Words: containerWords(b.GetContainer()),
			GivenOut: b.GetGivenOut(), CameBack: b.GetBackFull() + b.GetBackEmpty(), Lost: b.GetLost(),
		}
		if b.GetDeposit() != nil {
			var err error
			if c.Deposit, err = wire.MoneyFromProto(b.GetDeposit(), p.Terms.Currency); err != nil {
				return nil, fmt.Errorf("read the deposits of %s: %w", c.Member, err)
			}
		}
		if err := p.Tables.KeepContainers(ctx, tx, c); err != nil {
			return nil, err
		}
	}
	return p.deposit(ctx, tx, fact.GetMove())
}

// containerWords is a type of container for a reader: "steel closed head".
func containerWords(c intakev1.Container) string {
	return strings.ToLower(strings.ReplaceAll(strings.TrimPrefix(c.String(), "CONTAINER_"), "_", " "))
}

// deposit charges what a member leaves for containers, or gives it back; a move that changes no deposit does nothing. When read
// tables are filled again, what once followed has been done.
func (p *Project) deposit(ctx context.Context, tx pgx.Tx, move *intakev1.ContainerMove) ([]feed.Fact, error) {
	if move.GetDeposit() == nil || feed.Rebuilding(ctx) {
		return nil, nil
	}
	amount, err := wire.MoneyFromProto(move.GetDeposit(), p.Terms.Currency)
	if err != nil {
		return nil, fmt.Errorf("read the deposit of %s: %w", move.GetName(), err)
	}
	if amount == 0 {
		return nil, nil
	}
	kind := containerWords(move.GetContainer())
	many := fmt.Sprintf("%d containers", move.GetCount())
	if move.GetCount() == 1 {
		many = "1 container"
	}
	what := "Deposit for %s handed out (%s)"
	if amount < 0 {
		what = "Deposit given back for %s (%s)"
	}
	return p.Settler.Deposit(ctx, tx, &domain.MemberEntry{
		ID: uuid.NewSHA1(depositSpace, []byte(move.GetName())), Member: move.GetMember(), Kind: domain.ContainerCharge, Amount: -amount,
		Description: fmt.Sprintf(what, many, kind), Authority: "Deposit in force when they were handed out", Calculation: move.GetNote(),
		Recorder: move.GetRecorder(), Time: move.GetMoveTime().AsTime(),
	})
}
