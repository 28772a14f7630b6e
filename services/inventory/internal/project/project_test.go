package project_test

import (
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/inventory/internal/fixture"
	"barrelhead.example/services/inventory/internal/store"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/pgtest"
	"barrelhead.example/services/kit/rpctest"
)

const schema = "inventory"

// history makes a season in which deliveries close, are voided or reissued, and certificates are issued and superseded.
func history(r *rand.Rand) (intake, grading []proto.Message) {
	barrel, ticket, certificate := 0, 0, 0
	for range 3 + r.IntN(4) {
		ticket++
		d := fixture.Delivery{
			Number: ticket, Member: fmt.Sprintf("members/M-%04d", r.IntN(5)), CropYear: 2025 + int32(r.IntN(2)),
			Date: fmt.Sprintf("2026-09-%02d", 1+r.IntN(28)), Declared: r.IntN(3) > 0,
		}
		if ticket%2 == 1 {
			d.Claims = []*intakev1.HoneyClaim{{Claim: " Organic", Certificate: fmt.Sprintf("OC-%d", ticket)}, {Claim: "organic ", Certificate: "by word"}, {Claim: "Upper  Valley"}}
		}
		if ticket%2 == 0 {
			d.Owners = []string{d.Member, "members/M-0077"}
		}
		for range 1 + r.IntN(4) {
			barrel++
			b := fixture.Barrel{Number: barrel, Net: fmt.Sprintf("%d.5", 600+r.IntN(60)), Variety: []string{"clover", "buckwheat"}[r.IntN(2)]}
			d.Barrels = append(d.Barrels, b)
			for range r.IntN(3) {
				certificate++
				grading = append(grading, fixture.Certified(b, fixture.Grade{
					Number: certificate, Grade: []string{"A", "B"}[r.IntN(2)], ColorClass: []string{"WHITE", "AMBER"}[r.IntN(2)],
					Moisture: fmt.Sprintf("17.%d", r.IntN(10)), Pfund: fmt.Sprintf("%d.0", 10+r.IntN(90)),
				}))
			}
		}
		intake = append(intake, d.Events()...)
		switch r.IntN(4) {
		case 0:
			intake = append(intake, &intakev1.TicketVoided{Ticket: d.Ticket()})
		case 1:
			old := d.Ticket()
			ticket++
			d.Number, d.Member, d.Declared = ticket, "members/M-0099", r.IntN(2) == 0
			d.Claims, d.Owners = []*intakev1.HoneyClaim{{Claim: "raw"}}, nil
			intake = append(intake, &intakev1.TicketReissued{OldTicket: old, NewTicket: d.Ticket()})
		}
	}
	return intake, grading
}

// interleave merges the two feeds at random; each keeps its own order.
func interleave(r *rand.Rand, a, b []proto.Message) []proto.Message {
	var out []proto.Message
	for len(a)+len(b) > 0 {
		if r.IntN(len(a)+len(b)) < len(a) {
			out, a = append(out, a[0]), a[1:]
		} else {
			out, b = append(out, b[0]), b[1:]
		}
	}
	return out
}

// dump is the content of every read table, and what readers make of it, as text.
func dump(t testing.TB, db *pg.DB) string {
	t.Helper()
	var out strings.Builder
	for _, table := range append(append([]string{}, store.IntakeTables...), store.GradingTables...) {
		rows, err := db.Pool().Query(t.Context(), "SELECT t::text FROM "+table+" t ORDER BY 1")
		require.NoError(t, err)
		lines, err := pgx.CollectRows(rows, pgx.RowTo[string])
		require.NoError(t, err)
		fmt.Fprintln(&out, table, lines)
	}
	items, err := store.Store{}.Items(t.Context(), db.Pool(), app.Filter{}, nil, 1000)
	require.NoError(t, err)
	for _, i := range items {
		line, err := json.Marshal(i)
		require.NoError(t, err)
		fmt.Fprintln(&out, i.ETag(), string(line))
	}
	totals, err := store.Store{}.Totals(t.Context(), db.Pool())
	require.NoError(t, err)
	fmt.Fprintln(&out, totals)
	return out.String()
}

func empty(t testing.TB, db *pg.DB) {
	t.Helper()
	for _, table := range append(append([]string{}, store.IntakeTables...), store.GradingTables...) {
		_, err := db.Pool().Exec(t.Context(), "DELETE FROM "+table)
		require.NoError(t, err)
	}
}

func TestAnyInterleavingOfTheTwoFeedsGivesTheSameStock(t *testing.T) {
	t.Parallel()
	for seed := range uint64(6) {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			t.Parallel()
			r := rand.New(rand.NewPCG(seed, 1))
			intake, grading := history(r)
			db := pgtest.New(t, schema)
			fixture.Apply(t, db, append(append([]proto.Message{}, intake...), grading...)...)
			want := dump(t, db)
			require.Contains(t, want, "WHITE")
			require.Contains(t, want, "barrel_claim [(")
			require.Contains(t, want, "members/M-0077")
			for range 12 {
				empty(t, db)
				fixture.Apply(t, db, interleave(r, intake, grading)...)
				require.Equal(t, want, dump(t, db))
			}
		})
	}
}

func TestBothFeedsAtTheSameMomentLoseNothing(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, schema)
	b := fixture.Barrel{Number: 1, Net: "640.0", Variety: "clover"}
	d := fixture.Delivery{Number: 1, Member: "members/M-0001", CropYear: 2026, Date: "2026-09-14", Declared: true, Barrels: []fixture.Barrel{b}}
	p := fixture.Project(db)
	// The certificate's transaction is open, and sees no barrel, while the ticket's commits.
	require.NoError(t, db.InTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
		_, err := p.Grading(ctx, tx, feed.Event{Payload: fixture.Certified(b, fixture.Grade{Number: 1, Grade: "A", ColorClass: "WHITE", Moisture: "17.4", Pfund: "30.0"})})
		require.NoError(t, err)
		fixture.Apply(t, db, d.Events()...)
		return nil
	}))
	item, err := store.Store{}.Item(t.Context(), db.Pool(), fixture.ID("barrel", 1))
	require.NoError(t, err)
	require.Equal(t, "A", item.Grading.Grade)
}

func TestAMissingDeclarationHoldsEveryBarrelOnce(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, schema)
	d := fixture.Delivery{
		Number: 7, Member: "members/M-0001", CropYear: 2026, Date: "2026-09-14",
		Barrels: []fixture.Barrel{{Number: 1, Net: "640.0", Variety: "clover"}, {Number: 2, Net: "641.0", Variety: "clover"}},
	}
	facts := fixture.Apply(t, db, d.Events()...)
	require.Len(t, facts, 2)
	placed := facts[0].Payload.(*inventoryv1.HoldPlaced)
	require.Equal(t, "barrels/"+fixture.ID("barrel", 1).String(), placed.GetBarrel())
	require.Equal(t, inventoryv1.HoldCode_HOLD_CODE_DOCUMENTS, placed.GetHold().GetCode())
	require.Equal(t, "inventory", placed.GetHold().GetPlacer())
	require.Contains(t, placed.GetHold().GetReason(), "FC-2026-000007")
	require.Empty(t, fixture.Apply(t, db, d.Events()...), "the same fact again places nothing")
	item, err := store.Store{}.Item(t.Context(), db.Pool(), fixture.ID("barrel", 2))
	require.NoError(t, err)
	require.Len(t, item.Holds, 1)
	require.Equal(t, stock.Documents, item.Holds[0].Code)
}

func TestReissueCarriesGradeHoldAndPlaceToTheNewOwner(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, schema)
	b := fixture.Barrel{Number: 1, Net: "640.0", Variety: "clover"}
	d := fixture.Delivery{Number: 1, Member: "members/M-0001", CropYear: 2026, Date: "2026-09-14", Barrels: []fixture.Barrel{b, {Number: 2, Net: "600.0", Variety: "clover"}}}
	d.Claims = []*intakev1.HoneyClaim{{Claim: "organic", Certificate: "OC-1"}}
	fixture.Apply(t, db, d.Events()...)
	fixture.Apply(t, db, fixture.Certified(b, fixture.Grade{Number: 1, Grade: "A", ColorClass: "WHITE", Moisture: "17.4", Pfund: "30.0"}))
	old := d.Ticket()
	d.Number, d.Member, d.Declared, d.Barrels = 2, "members/M-0002", true, d.Barrels[:1]
	d.Claims = []*intakev1.HoneyClaim{{Claim: "raw"}}
	fixture.Apply(t, db, &intakev1.TicketReissued{OldTicket: old, NewTicket: d.Ticket()})
	item, err := store.Store{}.Item(t.Context(), db.Pool(), fixture.ID("barrel", 1))
	require.NoError(t, err)
	require.Equal(t, "members/M-0002", item.Member)
	require.Equal(t, fixture.ID("ticket", 2), item.Ticket)
	require.Equal(t, "A", item.Grading.Grade)
	require.Len(t, item.Holds, 1, "a hold stays with the barrel")
	require.Equal(t, []stock.Claim{{Name: "raw", Declared: &stock.Declared{Ticket: fixture.ID("ticket", 2)}}}, item.Claims, "the new ticket says what is claimed")
	left, err := store.Store{}.Item(t.Context(), db.Pool(), fixture.ID("barrel", 2))
	require.NoError(t, err)
	require.Equal(t, stock.Withdrawn, left.State, "a barrel the new ticket leaves out counts no more")
}

// neighbour serves the feed of another service over mutual TLS.
func neighbour(t *testing.T, name string, events []proto.Message) feedv1.FeedServiceClient {
	t.Helper()
	db := pgtest.New(t, name)
	for i, e := range events {
		require.NoError(t, db.InTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
			return feed.Append(ctx, tx, fixture.Start, feed.Meta{Actor: "users/dock1"}, feed.Fact{Aggregate: fmt.Sprint("events/", i), Payload: e})
		}))
	}
	server := rpctest.New(t, func(r grpc.ServiceRegistrar) { feedv1.RegisterFeedServiceServer(r, feed.NewServer(db)) })
	return feedv1.NewFeedServiceClient(server.AsService("inventory"))
}

func TestRebuildGivesByteIdenticalTablesAndPlacesNoHoldAgain(t *testing.T) {
	t.Parallel()
	intake, grading := history(rand.New(rand.NewPCG(4, 4)))
	db := pgtest.New(t, schema)
	p := fixture.Project(db)
	consumers := []*feed.Consumer{
		{Name: "stock", Source: "intake", DB: db, Apply: p.Intake, Client: neighbour(t, "intake", intake), ReadTables: store.IntakeTables},
		{Name: "grades", Source: "grading", DB: db, Apply: p.Grading, Client: neighbour(t, "grading", grading), ReadTables: store.GradingTables},
	}
	for i, c := range consumers {
		ctx, cancel := context.WithCancel(t.Context())
		ended := make(chan error, 1)
		go func() { ended <- c.Run(ctx) }()
		all := []int{len(intake), len(grading)}[i]
		require.Eventually(t, func() bool {
			return count(t, db, fmt.Sprintf("feed_cursor WHERE consumer = '%s' AND sequence = %d", c.Name, all)) == 1
		}, time.Minute, 5*time.Millisecond)
		cancel()
		require.NoError(t, <-ended)
	}
	want := dump(t, db)
	require.Contains(t, want, "members/M-")
	require.Contains(t, want, "upper valley")
	holds := count(t, db, "hold")
	_, err := db.Pool().Exec(t.Context(), "UPDATE barrel SET member = 'nobody'")
	require.NoError(t, err)
	_, err = db.Pool().Exec(t.Context(), "UPDATE barrel_claim SET evidence = 'none'")
	require.NoError(t, err)
	_, err = db.Pool().Exec(t.Context(), "UPDATE barrel_owner SET member = member || 'X'")
	require.NoError(t, err)
	for _, c := range consumers {
		require.NoError(t, c.Rebuild(t.Context()))
	}
	require.Equal(t, want, dump(t, db))
	require.Equal(t, holds, count(t, db, "hold"))
}

func count(t testing.TB, db *pg.DB, table string) (n int) {
	t.Helper()
	require.NoError(t, db.Pool().QueryRow(t.Context(), "SELECT count(*) FROM "+table).Scan(&n))
	return n
}

func TestAFailedScaleCheckHoldsWhatIsStillInItsDrum(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, schema)
	d := fixture.Delivery{
		Number: 1, Member: "members/M-0001", CropYear: 2026, Date: "2026-09-14", Declared: true,
		Barrels: []fixture.Barrel{{Number: 1, Net: "640.0", Variety: "clover"}, {Number: 2, Net: "641.0", Variety: "clover"}},
	}
	fixture.Apply(t, db, d.Events()...)
	later := fixture.Delivery{Number: 2, Member: "members/M-0002", CropYear: 2026, Date: "2026-09-14", Declared: true, Barrels: []fixture.Barrel{{Number: 3, Net: "642.0", Variety: "clover"}}}
	name := func(n int) string { return "barrels/" + fixture.ID("barrel", n).String() }
	review := &intakev1.ScaleReviewOpened{Review: &intakev1.ScaleReview{
		Name: "scaleReviews/" + fixture.ID("review", 1).String(), Scale: "scales/1",
		FailedCheck: &intakev1.ScaleCheck{CheckTime: timestamppb.New(fixture.Start)},
		Barrels:     []string{name(1), name(2), name(3)}, ReweighBarrels: []string{name(2), name(3)},
	}}
	require.Len(t, fixture.Apply(t, db, review), 2)
	require.Empty(t, fixture.Apply(t, db, review), "the same review again holds nothing")
	fixture.Apply(t, db, later.Events()...)
	for n, held := range map[int]bool{1: false, 2: true, 3: true} {
		item, err := store.Store{}.Item(t.Context(), db.Pool(), fixture.ID("barrel", n))
		require.NoError(t, err)
		require.Equal(t, held, len(item.Holds) == 1, "barrel %d", n)
		if held {
			require.Equal(t, stock.Scale, item.Holds[0].Code)
		}
	}
}
