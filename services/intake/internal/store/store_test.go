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

// plain is what a weighing passes for that is usual in an unregistered drum only.
var plain = []string{""}

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
		MemberName: "Apiary", CropYear: 2026, Weigher: "users/dock1", OpenTime: at, DeliveryDate: "2026-09-14", Version: 1,
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

func TestFillingADrum(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	ticket := head(t, db)
	barrel := domain.Barrel{
		ID: uuid.New(), Ticket: ticket.ID, DrumTag: "FC-00442", Variety: "clover", Scale: "2", Weigher: "users/dock1",
		WeighTime: dayOne, Warnings: []string{}, Weighing: domain.Weighing{Gross: 684_500, Tare: 42_000, TareKind: domain.TareClass},
	}
	place, err := store.Store{}.FillDrum(t.Context(), db.Pool(), barrel, plain, 2_000)
	require.NoError(t, err)
	require.Equal(t, domain.Open, place.Ticket.State)
	require.Equal(t, 1, place.Ticket.BarrelCount)
	require.Equal(t, "2", place.Scale.ID)

	read, err := store.Store{}.Barrel(t.Context(), db.Pool(), barrel.ID)
	require.NoError(t, err)
	barrel.Line, barrel.Member, barrel.CropYear, barrel.Open = 1, "M-0007", 2026, true
	read.WeighTime = read.WeighTime.UTC()
	require.Equal(t, barrel, read)

	second := barrel
	second.ID = uuid.New()
	_, err = store.Store{}.FillDrum(t.Context(), db.Pool(), second, plain, 2_000)
	var refusal *domain.Refusal
	require.ErrorAs(t, err, &refusal)
	require.Equal(t, map[string]string{"field": "drum_tag", "drum": "FC-00442", "barrel": ""}, refusal.Metadata())

	lost := barrel
	lost.ID, lost.Ticket, lost.Scale, lost.DrumTag = uuid.New(), uuid.New(), "9", "FC-00443"
	place, err = store.Store{}.FillDrum(t.Context(), db.Pool(), lost, plain, 2_000)
	require.NoError(t, err)
	require.Empty(t, place.Ticket.State)
	require.Empty(t, place.Scale.ID)
	require.False(t, place.Filled)
	_, err = store.Store{}.Barrel(t.Context(), db.Pool(), lost.ID)
	require.ErrorAs(t, err, &refusal)
	require.Equal(t, "NOT_FOUND", refusal.Reason())
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
	for _, tag := range []string{"FC-00001", "FC-00002"} {
		b := domain.Barrel{
			ID: uuid.New(), Ticket: ticket.ID, DrumTag: tag, Variety: "clover", Scale: "2", WeighTime: dayOne, DrawTime: dayOne,
			Sample: "2C4D6F8HJ", Warnings: []string{}, Weighing: domain.Weighing{Gross: 684_500, Tare: 42_000, TareKind: domain.TareClass},
		}
		_, err := store.Store{}.FillDrum(t.Context(), db.Pool(), b, plain, 2_000)
		require.NoError(t, err)
		barrels = append(barrels, b)
	}
	fresh, err := store.Store{}.InsertSample(t.Context(), db.Pool(), barrels[0], "users/dock1")
	require.NoError(t, err)
	require.True(t, fresh)
	fresh, err = store.Store{}.InsertSample(t.Context(), db.Pool(), barrels[1], "users/dock1")
	require.NoError(t, err)
	require.False(t, fresh)
}
