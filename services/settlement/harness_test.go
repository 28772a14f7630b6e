package settlement_test

import (
	"context"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/pgtest"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/rpctest"
	"barrelhead.example/services/kit/seal"
	"barrelhead.example/services/settlement/internal/app"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/project"
	"barrelhead.example/services/settlement/internal/rpc"
	"barrelhead.example/services/settlement/internal/store"
)

var (
	pounds    = domain.Terms{Unit: quantity.LB, Currency: "USD"}
	harvest   = time.Date(2026, 9, 20, 12, 0, 0, 0, time.UTC)
	office    = rpctest.Person("office1", accessv1.Role_ROLE_OFFICE)
	board     = rpctest.Person("board1", accessv1.Role_ROLE_BOARD)
	treasurer = rpctest.Person("treasurer1", accessv1.Role_ROLE_TREASURER)
	auditor   = rpctest.Person("auditor1", accessv1.Role_ROLE_AUDITOR)
)

// house is settlement on a database of its own, fed by hand.
type house struct {
	t   testing.TB
	db  *pg.DB
	clk *clock.Fake
	app *app.App
	prj *project.Project
}

func open(t testing.TB) *house {
	h := &house{t: t, db: pgtest.New(t, "settlement"), clk: clock.NewFake(harvest)}
	h.app = &app.App{DB: h.db, Clock: h.clk, Store: store.Store{}, Terms: pounds, Zone: time.UTC, Policy: domain.DefaultHoldPolicy()}
	var err error
	h.app.Keys, err = seal.Load(filepath.Join(t.TempDir(), "accounts.key"))
	require.NoError(t, err)
	h.prj = &project.Project{Tables: store.Store{}, Settler: h.app, Terms: pounds}
	return h
}

// client is the services of settlement.
type client struct {
	settlementv1.SettlementServiceClient
	settlementv1.MemberAccountServiceClient
	settlementv1.PoolSalesServiceClient
}

// serve puts the house behind real gRPC; the result makes a client for anybody.
func (h *house) serve() func(access.Actor) client {
	s := rpctest.New(h.t, func(r grpc.ServiceRegistrar) { rpc.Register(r, h.app) })
	return func(a access.Actor) client {
		return client{settlementv1.NewSettlementServiceClient(s.As(a)), settlementv1.NewMemberAccountServiceClient(s.As(a)), settlementv1.NewPoolSalesServiceClient(s.As(a))}
	}
}

// take applies one fact of a neighbour as the consumer does: facts that follow are the last step of the transaction.
func (h *house) take(payload proto.Message) {
	require.NoError(h.t, h.tryTake(payload))
}

func (h *house) tryTake(payload proto.Message) error {
	apply := h.prj.Intake
	switch payload.(type) {
	case *gradingv1.CertificateIssued, *gradingv1.ResultsReturnedToPending, *gradingv1.ResultsConfirmed, *gradingv1.AppealDecided, *gradingv1.CertificateUnfit:
		apply = h.prj.Grading
	case *inventoryv1.HoldPlaced, *inventoryv1.HoldReleased, *inventoryv1.SaleRecorded:
		apply = h.prj.Inventory
	}
	return h.db.InTx(context.Background(), func(ctx context.Context, tx pgx.Tx) error {
		facts, err := apply(ctx, tx, feed.Event{Payload: payload})
		if err != nil {
			return err
		}
		return feed.Append(ctx, tx, h.clk.Now(), feed.Meta{Actor: "settlement"}, facts...)
	})
}

func lb(value string) *typev1.Mass { return &typev1.Mass{Value: value, Unit: "LB"} }

func perPound(value string) *typev1.Price {
	return &typev1.Price{Amount: value, CurrencyCode: "USD", PerUnit: "LB"}
}

// made is a stable identity for a word.
func made(word string) string { return uuid.NewSHA1(uuid.Nil, []byte(word)).String() }

func member(number, name string) *intakev1.MemberRegistered {
	return &intakev1.MemberRegistered{Member: &intakev1.Member{Name: "members/" + number, DisplayName: name}}
}

type barrelOf struct{ id, net, variety string }

func ticket(number, owner string, barrels ...barrelOf) *intakev1.Ticket {
	t := &intakev1.Ticket{
		Name: "tickets/" + made(number), Number: number, Member: "members/" + owner, CropYear: 2026, DeliveryDate: "2026-09-14",
		State: intakev1.TicketState_TICKET_STATE_CLOSED,
	}
	for i, b := range barrels {
		t.Barrels = append(t.Barrels, &intakev1.Barrel{
			Name: "barrels/" + made(b.id), Ticket: t.GetName(), Line: int32(i + 1), DrumTag: b.id, Variety: b.variety, Net: lb(b.net),
		})
	}
	return t
}

func closed(t *intakev1.Ticket) *intakev1.TicketClosed { return &intakev1.TicketClosed{Ticket: t} }

func sampled(barrel string) *intakev1.SampleDrawn {
	return &intakev1.SampleDrawn{Sample: "samples/S-" + barrel, Barrel: "barrels/" + made(barrel), Variety: "clover", CropYear: 2026}
}

// graded is a certificate for the sample of a barrel; version 2 and later supersede the one before.
func graded(barrel string, version int, water, color, grade string) *gradingv1.CertificateIssued {
	name := func(v int) string { return "certificates/" + made(fmt.Sprintf("%s/%d", barrel, v)) }
	c := &gradingv1.Certificate{
		Name: name(version), Number: fmt.Sprintf("G-%s-%d", barrel, version), Sample: "samples/S-" + barrel, Variety: "clover", CropYear: 2026,
		Decision: &gradingv1.Decision{Grade: grade, ColorClass: color, MoisturePercent: water},
		Readings: []*gradingv1.Reading{{
			Kind: gradingv1.ReadingKind_READING_KIND_REFRACTIVE_INDEX, RawValue: "1.4885", TemperatureC: "21.0", Instrument: "RF-2", ReportedValue: water,
			Analyst: "users/lab1",
		}},
		IssueTime: timestamppb.New(harvest.Add(time.Duration(version) * time.Hour)),
	}
	if version > 1 {
		c.Supersedes, c.Reason = name(version-1), "referee reading"
	}
	return &gradingv1.CertificateIssued{Certificate: c}
}

func held(barrel string, code inventoryv1.HoldCode) *inventoryv1.HoldPlaced {
	return &inventoryv1.HoldPlaced{
		Hold:   &inventoryv1.Hold{Name: "holds/" + made(barrel+code.String()), Code: code, PlaceTime: timestamppb.New(harvest.Add(time.Duration(code) * time.Minute))},
		Barrel: "barrels/" + made(barrel),
	}
}

func released(barrel string, code inventoryv1.HoldCode) *inventoryv1.HoldReleased {
	placed := held(barrel, code)
	return &inventoryv1.HoldReleased{Hold: placed.GetHold(), Barrel: placed.GetBarrel()}
}

// prices is a draft like the worked example's, with hauling and a retain.
func prices(effective string) *settlementv1.Schedule {
	row := func(color, advance string) *settlementv1.PriceRow {
		return &settlementv1.PriceRow{ColorClass: color, Grade: "A", Advance: perPound(advance)}
	}
	return &settlementv1.Schedule{
		CropYear: 2026, EffectiveDate: effective,
		Rows:         []*settlementv1.PriceRow{row("WHITE", "1.15"), row("EXTRA_LIGHT_AMBER", "1.10"), row("LIGHT_AMBER", "0.98")},
		MoistureRule: &settlementv1.MoistureRule{BasePercent: "18.6"},
		Deductions: []*settlementv1.DeductionRule{
			{
				Code: "HAULING", Description: "Hauling", Authority: "Marketing agreement 2026, article 7",
				Basis: settlementv1.DeductionBasis_DEDUCTION_BASIS_NET_WEIGHT, Rate: perPound("0.02"),
			},
			{
				Code: "RETAIN", Description: "Per-unit retain", Authority: "Bylaws, article 12",
				Basis: settlementv1.DeductionBasis_DEDUCTION_BASIS_PAYABLE_WEIGHT, Rate: perPound("0.03"),
			},
		},
	}
}

// draft and adopt go around gRPC, for tests that are about what follows.
func (h *house) draft(s *settlementv1.Schedule) *settlementv1.Schedule {
	out, err := h.app.CreateSchedule(access.With(h.t.Context(), office), &settlementv1.CreateScheduleRequest{RequestId: uuid.NewString(), Schedule: s})
	require.NoError(h.t, err)
	return out
}

func (h *house) adopt(s *settlementv1.Schedule) *settlementv1.Schedule {
	out, err := h.app.AdoptSchedule(access.With(h.t.Context(), board), &settlementv1.AdoptScheduleRequest{
		RequestId: uuid.NewString(), Name: h.draft(s).GetName(), Resolution: "Board 2026-06-14 no. 3",
	})
	require.NoError(h.t, err)
	return out
}

func (h *house) payouts(number string) []*settlementv1.Payout {
	out, err := h.app.ListPayouts(access.With(h.t.Context(), office), &settlementv1.ListPayoutsRequest{Member: "members/" + number})
	require.NoError(h.t, err)
	return out.GetPayouts()
}

func (h *house) total(number string) *settlementv1.MemberTotal {
	out, err := h.app.GetMemberTotal(access.With(h.t.Context(), office), &settlementv1.GetMemberTotalRequest{Member: "members/" + number})
	require.NoError(h.t, err)
	return out
}

func (h *house) waiting() map[string]string {
	out, err := h.app.ListUnpriced(access.With(h.t.Context(), office), &settlementv1.ListUnpricedRequest{PageSize: 1000})
	require.NoError(h.t, err)
	reasons := map[string]string{}
	for _, u := range out.GetUnpriced() {
		reasons[u.GetDrumTag()] = u.GetReason()
	}
	return reasons
}

// facts counts what the house has told its own feed, by message.
func (h *house) facts() map[string]int {
	rows, err := h.db.Pool().Query(h.t.Context(), `SELECT type FROM event_pending`)
	require.NoError(h.t, err)
	types, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(h.t, err)
	count := map[string]int{}
	for _, name := range types {
		count[name]++
	}
	return count
}

// asOwner does what the service's own role may not.
func (h *house) asOwner(sql string, args ...any) { pgtest.Exec(h.t, "settlement", sql, args...) }
