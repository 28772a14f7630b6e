package store_test

import (
	"context"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/intake/internal/store"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/pgtest"
)

var dayOne = time.Date(2026, 9, 14, 12, 0, 0, 0, time.UTC)

// What a person may dispute cannot be changed by the service, whatever its code tries.
func TestRecordsAreAppendOnly(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	may := map[string][]string{
		"ticket_counter": {"last"},
		"ticket":         {"barrel_count", "close_time", "net_total", "state", "version"},
		"barrel":         {"open"},
		"drum_asset": {
			"container", "owner", "ownership", "register_time", "retire_reason", "retire_time", "weighed_tare", "weighed_time",
		},
	}
	rows, err := db.Pool().Query(t.Context(), `SELECT c.table_name, c.column_name,
			has_column_privilege(quote_ident(c.table_name), c.column_name, 'UPDATE'),
			has_table_privilege(quote_ident(c.table_name), 'DELETE') OR has_table_privilege(quote_ident(c.table_name), 'TRUNCATE')
		FROM information_schema.columns c JOIN information_schema.tables t USING (table_schema, table_name)
		WHERE c.table_schema = 'intake' AND c.table_name NOT LIKE 'event%' AND c.table_name NOT LIKE 'feed%'
			AND c.table_name NOT LIKE 'migration%'`)
	require.NoError(t, err)
	var table, column string
	var update, remove bool
	seen := 0
	_, err = pgx.ForEachRow(rows, []any{&table, &column, &update, &remove}, func() error {
		seen++
		require.False(t, remove, table)
		allowed := false
		for _, c := range may[table] {
			allowed = allowed || c == column
		}
		require.Equal(t, allowed, update, "%s.%s", table, column)
		return nil
	})
	require.NoError(t, err)
	require.Greater(t, seen, 80)
}

func head(t *testing.T, db *pg.DB) domain.Ticket {
	t.Helper()
	at := dayOne
	require.NoError(t, store.Store{}.InsertMember(t.Context(), db.Pool(), domain.Member{
		Number: "M-0007", DisplayName: "Apiary", JoinDate: "2026-03-01", CreateTime: at,
	}))
	require.NoError(t, store.Store{}.InsertScale(t.Context(), db.Pool(), domain.Scale{
		ID: "2", Description: "Floor scale", Division: 500, Capacity: 1_000_000, Class: domain.ClassIII, CreateTime: at,
	}))
	ticket := domain.Ticket{
		ID: uuid.New(), Number: domain.Number{Site: "FC", Year: 2026, Ordinal: 1}, State: domain.Open, Member: "M-0007",
		MemberName: "Apiary", CropYear: 2026, Weigher: "users/dock1", OpenTime: at, RecordTime: at, DeliveryDate: "2026-09-14", Version: 1,
	}
	require.NoError(t, store.Store{}.InsertTicket(t.Context(), db.Pool(), ticket))
	return ticket
}

func TestRolledBackNumberIsGivenAgain(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	take := func(commit bool) int64 {
		var ordinal int64
		err := db.InTx(t.Context(), func(ctx context.Context, tx pgx.Tx) (err error) {
			if ordinal, err = (store.Store{}).NextOrdinal(ctx, tx, "FC", 2026); err != nil || commit {
				return err
			}
			return pgx.ErrNoRows
		})
		require.Equal(t, commit, err == nil)
		return ordinal
	}
	require.Equal(t, int64(1), take(true))
	require.Equal(t, int64(2), take(false))
	require.Equal(t, int64(2), take(true))
}

// fill puts a barrel on its ticket as the service does.
func fill(t *testing.T, db *pg.DB, b domain.Barrel) error {
	t.Helper()
	return db.InTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
		batch := &pgx.Batch{}
		store.Store{}.QueueBarrel(batch, b)
		return store.Store{}.BarrelFault(tx.SendBatch(ctx, batch).Close(), b)
	})
}

func filling(ticket domain.Ticket, line int, tag string) domain.Barrel {
	return domain.Barrel{
		ID: uuid.New(), Ticket: ticket.ID, Line: line, Member: "M-0007", DrumTag: tag, Variety: "clover", CropYear: 2026, Scale: "2",
		Weigher: "users/dock1", WeighTime: dayOne, RecordTime: dayOne, Warnings: []string{}, Open: true,
		Weighing: domain.Weighing{Gross: 684_500, Tare: 42_000, TareKind: domain.TareClass},
	}
}

func TestFillingADrum(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	ticket := head(t, db)
	barrel := filling(ticket, 1, "FC-00442")
	place, err := store.Store{}.Place(t.Context(), db.Pool(), barrel)
	require.NoError(t, err)
	require.Equal(t, domain.Open, place.Ticket.State)
	require.Zero(t, place.Ticket.BarrelCount)
	require.Equal(t, "2", place.Scale.ID)
	require.NoError(t, fill(t, db, barrel))

	read, err := store.Store{}.Barrel(t.Context(), db.Pool(), barrel.ID)
	require.NoError(t, err)
	read.WeighTime, read.RecordTime = read.WeighTime.UTC(), read.RecordTime.UTC()
	require.Equal(t, barrel, read)
	place, err = store.Store{}.Place(t.Context(), db.Pool(), barrel)
	require.NoError(t, err)
	require.Equal(t, 1, place.Ticket.BarrelCount)
	require.Equal(t, barrel.ID, place.OpenBarrel)

	var refusal *domain.Refusal
	for _, c := range []func(*domain.Barrel){
		func(b *domain.Barrel) { b.Ticket = uuid.New() },
		func(b *domain.Barrel) { b.Scale = "9" },
	} {
		nowhere := filling(ticket, 2, "FC-00443")
		c(&nowhere)
		_, err := store.Store{}.Place(t.Context(), db.Pool(), nowhere)
		require.ErrorAs(t, err, &refusal)
		require.Equal(t, "NOT_FOUND", refusal.Reason())
	}
}

// Whatever changed after the place was read, the barrel is not put in, and nothing else is either.
func TestStalePlaceTakesNoBarrel(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	ticket := head(t, db)
	require.NoError(t, fill(t, db, filling(ticket, 1, "FC-00001")))
	require.NoError(t, store.Store{}.RetireDrum(t.Context(), db.Pool(), domain.Asset{Tag: "FC-00009", RetireTime: dayOne}, "users/warehouse1"))
	checked := domain.Check{ID: uuid.New(), Scale: "2", Passed: true, Time: dayOne, Date: "2026-09-14"}
	require.ErrorIs(t, fill(t, db, filling(ticket, 1, "FC-00002")), domain.ErrStale, "line taken")
	require.ErrorIs(t, fill(t, db, filling(ticket, 3, "FC-00002")), domain.ErrStale, "line skipped")
	require.ErrorIs(t, fill(t, db, filling(ticket, 2, "FC-00001")), domain.ErrStale, "drum filled")
	require.ErrorIs(t, fill(t, db, filling(ticket, 2, "FC-00009")), domain.ErrStale, "drum retired")
	require.NoError(t, store.Store{}.InsertCheck(t.Context(), db.Pool(), &checked))
	require.ErrorIs(t, fill(t, db, filling(ticket, 2, "FC-00002")), domain.ErrStale, "scale checked")
	again := filling(ticket, 2, "FC-00002")
	again.CheckOrdinal, again.KnownChecks = 1, 1
	require.NoError(t, fill(t, db, again))
	twin := filling(ticket, 3, "FC-00003")
	twin.ID, twin.CheckOrdinal, twin.KnownChecks = again.ID, 1, 1
	var refusal *domain.Refusal
	require.ErrorAs(t, fill(t, db, twin), &refusal)
	require.Equal(t, "ALREADY_EXISTS", refusal.Reason())
	read, err := store.Store{}.Ticket(t.Context(), db.Pool(), ticket.ID)
	require.NoError(t, err)
	require.Len(t, read.Barrels, 2)
}

func TestTotalsOfATicketAreThoseOfItsLines(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	ticket := head(t, db)
	pgtest.Exec(t, "intake", `UPDATE ticket SET net_total = 1`)
	_, err := store.Store{}.Ticket(t.Context(), db.Pool(), ticket.ID)
	require.ErrorContains(t, err, "its lines say 0 of 0.0")
}

func TestSampleCodeIsGivenOnce(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	ticket := head(t, db)
	var barrels []domain.Barrel
	for i, tag := range []string{"FC-00001", "FC-00002"} {
		b := filling(ticket, i+1, tag)
		b.Sample, b.DrawTime = "2C4D6F8HJ", dayOne
		require.NoError(t, fill(t, db, b))
		barrels = append(barrels, b)
	}
	fresh, err := store.Store{}.InsertSample(t.Context(), db.Pool(), barrels[0], "users/dock1")
	require.NoError(t, err)
	require.True(t, fresh)
	fresh, err = store.Store{}.InsertSample(t.Context(), db.Pool(), barrels[1], "users/dock1")
	require.NoError(t, err)
	require.False(t, fresh)
}
