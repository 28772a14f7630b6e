package feed

import (
	"context"
	"fmt"
	"sync"

	"github.com/jackc/pgx/v5"

	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	"barrelhead.example/services/kit/pg"
)

const (
	// mostNumbered transactions under one head lock, so that a backlog does not block other readers for long.
	mostNumbered = 1000
	// pageBytes keeps an ordinary page far below the gRPC message limit; one transaction is never split, whatever its size.
	pageBytes = 1 << 20
)

// head is the state of a log.
type head struct {
	logID            string
	sequence, oldest int64
}

// page is what follows a position, whole transactions only.
type page struct {
	head    head
	after   int64
	records []record
	encode  sync.Once
	encoded []*feedv1.Event
}

// events is the page as it is sent, made once for all streams that send it.
func (p *page) events() []*feedv1.Event {
	p.encode.Do(func() {
		for i := range p.records {
			p.encoded = append(p.encoded, p.records[i].toProto())
		}
	})
	return p.encoded
}

func (p *page) through() int64 {
	if len(p.records) == 0 {
		return p.after
	}
	return p.records[len(p.records)-1].sequence
}

const numberEvents = "SELECT number_events($1)"

// Number gives numbers to everything committed before the call. Reading the feed does it anyway; this is for those who
// look at the table itself.
func Number(ctx context.Context, db pg.Querier) error {
	var before, head int64
	if err := db.QueryRow(ctx, "SELECT head_sequence FROM feed_head").Scan(&head); err != nil {
		return fmt.Errorf("look for new events: %w", err)
	}
	// Fewer events than transactions were asked for: nothing is left of what there was.
	for more := true; more; more = head-before >= mostNumbered {
		before = head
		if err := db.QueryRow(ctx, numberEvents, mostNumbered).Scan(&head); err != nil {
			return fmt.Errorf("number new events: %w", err)
		}
	}
	return nil
}

// One statement, so head and events come from one snapshot. The page goes on to the end of the transaction the limit
// falls into; that end is a subquery of its own, so that the index bounds the page on both sides and a reader far behind
// does not read all that follows.
const selectPage = `
SELECT h.log_id::text, h.head_sequence, h.oldest_sequence, e.sequence, e.transaction_last_sequence, e.event_id, e.aggregate,
       e.occur_time, e.record_time, e.actor, e.request_id, e.type, e.payload
FROM feed_head h
LEFT JOIN LATERAL (
    SELECT * FROM event WHERE sequence > $1 AND sequence <= (
        SELECT max(f.transaction_last_sequence)
        FROM (SELECT transaction_last_sequence FROM event WHERE sequence > $1 ORDER BY sequence LIMIT $2) f
    )
) e ON true
ORDER BY e.sequence`

// readPage numbers what is new, one step at most since under steady writing there is always more, and reads what follows
// after. It holds no connection when it returns.
func readPage(ctx context.Context, db pg.Querier, after int64, most int) (*page, error) {
	p := &page{after: after}
	b := &pgx.Batch{}
	b.Queue(numberEvents, mostNumbered)
	b.Queue(selectPage, after, most).Query(func(rows pgx.Rows) (err error) {
		p.records, err = pgx.AppendRows(p.records, rows, func(row pgx.CollectableRow) (record, error) { return scanPageRow(row, &p.head) })
		return err
	})
	if err := db.SendBatch(ctx, b).Close(); err != nil {
		return nil, fmt.Errorf("read the feed: %w", err)
	}
	if len(p.records) == 1 && p.records[0].sequence == 0 {
		p.records = nil // the head alone
	}
	p.cut(pageBytes)
	return p, nil
}

// cut ends the page at the first transaction boundary past the budget.
func (p *page) cut(budget int) {
	size := 0
	for i := range p.records {
		size += len(p.records[i].payload)
		if size > budget && p.records[i].sequence == p.records[i].transactionLast {
			p.records = p.records[:i+1]
			return
		}
	}
}

// scanPageRow reads NULLs as a record with sequence 0: there is nothing after the position.
func scanPageRow(row pgx.CollectableRow, h *head) (record, error) {
	var n nullable
	err := row.Scan(&h.logID, &h.sequence, &h.oldest, &n.sequence, &n.transactionLast, &n.id, &n.aggregate, &n.occurTime,
		&n.recordTime, &n.actor, &n.requestID, &n.typeName, &n.payload)
	return n.record(), err
}
