package app

import (
	"fmt"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

func (a *App) poolToProto(p *pool.Account) *settlementv1.Pool {
	out := &settlementv1.Pool{
		Name: p.Name(), CropYear: int32(p.CropYear), Title: p.Title, Varieties: p.Varieties, State: settlementv1.PoolState_POOL_STATE_OPEN, //nolint:gosec // a year
		Proceeds: wire.MoneyToProto(p.Proceeds, a.Terms.Currency), Expenses: wire.MoneyToProto(p.Expenses, a.Terms.Currency),
		Distributable: wire.MoneyToProto(p.Proceeds-p.Expenses, a.Terms.Currency), Opener: p.Opener, OpenTime: stamp(p.OpenTime),
	}
	if p.Closed() {
		out.State, out.ClosingRun = settlementv1.PoolState_POOL_STATE_CLOSED, "runs/"+p.ClosingRun.String()
	}
	for _, c := range p.Classes {
		out.Differentials = append(out.Differentials, &settlementv1.Differential{
			Variety: c.Variety, ColorClass: c.ColorClass, Grade: c.Grade, Amount: wire.PriceToProto(c.Differential, a.Terms.Currency, a.Terms.Unit),
		})
	}
	return out
}

func (a *App) entryToProto(e *pool.Record) *settlementv1.PoolEntry {
	return &settlementv1.PoolEntry{
		Name: e.Name(), Pool: "pools/" + e.Pool.String(), Kind: settlementv1.PoolEntryKind(e.Kind), Amount: wire.MoneyToProto(e.Amount, a.Terms.Currency), //nolint:gosec // one of two
		Description: e.Description, Document: e.Document, EntryDate: string(e.Date), Recorder: e.Recorder, RecordTime: stamp(e.RecordTime),
		CounterPool: named("pools", e.Counter), Sale: named("sales", e.Sale),
	}
}

// runToProto writes a run. current is the fingerprint of its pool's inputs as they are now.
func (a *App) runToProto(r *pool.Run, current string) (*settlementv1.Run, error) {
	result, err := pool.ReadSummary(r.Outcome)
	if err != nil {
		return nil, err
	}
	c := a.Terms.Currency
	out := &settlementv1.Run{
		Name: r.Name(), Number: r.Number, Pool: "pools/" + r.Pool.String(), State: runState(r, current), Fingerprint: r.Fingerprint,
		BasePrice: wire.PriceToProto(result.Base, c, a.Terms.Unit), Payable: wire.MassToProto(result.Payable, a.Terms.Unit),
		Distributable: wire.MoneyToProto(result.Distributable, c), ToMembers: wire.MoneyToProto(result.ToMembers, c),
		Residual: wire.MoneyToProto(result.Residual, c), CreditedBefore: wire.MoneyToProto(result.Credited, c),
		Due: wire.MoneyToProto(result.Due, c), Receivable: wire.MoneyToProto(result.Receivable, c),
		Members: int32(result.Members), Barrels: int32(result.Barrels), BarrelsLeftOut: int32(result.LeftOut), //nolint:gosec // counts
		Preparer: r.Preparer, PrepareTime: stamp(r.PrepareTime), Releaser: r.Releaser, Headline: headline(r, result, a.Terms),
	}
	if r.ReleaseTime != nil {
		out.ReleaseTime = stamp(*r.ReleaseTime)
	}
	for _, v := range r.Votes {
		out.Votes = append(out.Votes, &settlementv1.RunVote{Director: v.Director, Abstained: v.Abstained, Minutes: v.Minutes, VoteTime: stamp(v.Time)})
	}
	for _, k := range result.Classes {
		out.Classes = append(out.Classes, &settlementv1.RunClass{
			Variety: k.Variety, ColorClass: k.ColorClass, Grade: k.Grade, Differential: wire.PriceToProto(k.Differential, c, a.Terms.Unit),
			Price: wire.PriceToProto(k.Price, c, a.Terms.Unit), Barrels: int32(k.Barrels), Payable: wire.MassToProto(k.Payable, a.Terms.Unit), //nolint:gosec // a count
		})
	}
	return out, nil
}

func runState(r *pool.Run, current string) settlementv1.RunState {
	switch {
	case r.Released():
		return settlementv1.RunState_RUN_STATE_RELEASED
	case r.Fingerprint != current:
		return settlementv1.RunState_RUN_STATE_OUTDATED
	case r.Approver() != "":
		return settlementv1.RunState_RUN_STATE_APPROVED
	default:
		return settlementv1.RunState_RUN_STATE_PREPARED
	}
}

func headline(r *pool.Run, result *pool.Summary, terms domain.Terms) string {
	return fmt.Sprintf("Run %s, fingerprint %s…: of %s there is to distribute, %s goes to %s and %s is left over. Any change of an input cancels an approval.",
		r.Number, r.Fingerprint[:8], terms.Money(result.Distributable), terms.Money(result.ToMembers), quantity.Count(int64(result.Members), "member"), terms.Money(result.Residual))
}

func (a *App) runMemberToProto(m pool.MemberResult) *settlementv1.RunMember {
	c := a.Terms.Currency
	return &settlementv1.RunMember{
		Member: m.Member, Barrels: int32(m.Barrels), Payable: wire.MassToProto(m.Payable, a.Terms.Unit), Value: wire.MoneyToProto(m.Value, c), //nolint:gosec // a count
		CreditedBefore: wire.MoneyToProto(m.Credited, c), Due: wire.MoneyToProto(m.Due, c), Receivable: wire.MoneyToProto(m.Receivable, c),
	}
}
