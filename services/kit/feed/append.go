package feed

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"google.golang.org/protobuf/proto"

	"barrelhead.example/services/kit/pg"
)

// One statement for all facts, so their insertion numbers follow the order of the slice.
const insertPending = `
INSERT INTO event_pending (event_id, aggregate, occur_time, record_time, actor, request_id, type, payload)
SELECT f.event_id, f.aggregate, f.occur_time, $9::timestamptz, f.actor, f.request_id, f.type, f.payload
FROM unnest($1::uuid[], $2::text[], $3::timestamptz[], $4::text[], $5::text[], $6::text[], $7::bytea[], $8::int[])
     AS f (event_id, aggregate, occur_time, actor, request_id, type, payload, place)
ORDER BY f.place`

// The usual call has one fact, for which the arrays would cost more than the row.
const insertOne = `
INSERT INTO event_pending (event_id, aggregate, occur_time, actor, request_id, type, payload, record_time)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`

// caused is a fact with its cause.
type caused struct {
	fact Fact
	meta Meta
}

// Append records facts in the transaction. idem.Do and Consumer call it as their last step; nothing may follow it but
// the commit, because a row lock taken afterwards could turn the order of causes around.
func Append(ctx context.Context, tx pgx.Tx, now time.Time, meta Meta, facts ...Fact) error {
	b := &pgx.Batch{}
	if err := Queue(b, now, meta, facts...); err != nil || b.Len() == 0 {
		return err
	}
	if err := tx.SendBatch(ctx, b).Close(); err != nil {
		return fmt.Errorf("append events: %w", err)
	}
	return nil
}

// Queue is Append without its own round trip: the statement travels with what else is in b.
func Queue(b *pgx.Batch, now time.Time, meta Meta, facts ...Fact) error {
	all := make([]caused, len(facts))
	for i, fact := range facts {
		all[i] = caused{fact, meta}
	}
	return queue(b, now, all)
}

func queue(b *pgx.Batch, now time.Time, all []caused) error {
	if len(all) == 0 {
		return nil
	}
	c := newColumns(len(all))
	for i, one := range all {
		if err := c.add(i, now, one); err != nil {
			return fmt.Errorf("append event %d of %d: %w", i+1, len(all), err)
		}
	}
	if len(all) == 1 {
		b.Queue(insertOne, c.ids[0], c.aggregates[0], c.occurTimes[0], c.actors[0], c.requestIDs[0], c.types[0], c.payloads[0], now)
		return nil
	}
	b.Queue(insertPending, c.ids, c.aggregates, c.occurTimes, c.actors, c.requestIDs, c.types, c.payloads, c.places, now)
	return nil
}

type columns struct {
	ids                                   []uuid.UUID
	aggregates, actors, requestIDs, types []string
	occurTimes                            []time.Time
	payloads                              [][]byte
	places                                []int32
}

func newColumns(n int) *columns {
	return &columns{
		make([]uuid.UUID, 0, n), make([]string, 0, n), make([]string, 0, n), make([]string, 0, n), make([]string, 0, n),
		make([]time.Time, 0, n), make([][]byte, 0, n), make([]int32, 0, n),
	}
}

func (c *columns) add(place int, now time.Time, one caused) error {
	if one.fact.Aggregate == "" || one.fact.Payload == nil {
		return errors.New("a fact needs an aggregate and a payload")
	}
	payload, err := proto.MarshalOptions{Deterministic: true}.Marshal(one.fact.Payload)
	if err != nil {
		return err
	}
	// Version 7 grows with time, which keeps the unique index compact.
	id, err := uuid.NewV7()
	if err != nil {
		return err
	}
	occurTime := one.fact.OccurTime
	if occurTime.IsZero() {
		occurTime = now
	}
	c.ids, c.aggregates = append(c.ids, id), append(c.aggregates, one.fact.Aggregate)
	c.actors, c.requestIDs = append(c.actors, one.meta.Actor), append(c.requestIDs, one.meta.RequestID)
	c.types = append(c.types, string(one.fact.Payload.ProtoReflect().Descriptor().FullName()))
	c.occurTimes, c.payloads = append(c.occurTimes, occurTime), append(c.payloads, payload)
	c.places = append(c.places, int32(place)) //nolint:gosec // a transaction has no two billion facts
	return nil
}

func channel(db *pg.DB) string { return "feed_" + db.Schema() }

// Announce wakes the readers of this service's feed. Call it after the commit; lost announcements cost at most one
// polling interval.
func Announce(db *pg.DB) { db.Announce(channel(db)) }
