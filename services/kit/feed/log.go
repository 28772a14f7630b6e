package feed

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

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
}

func (p *page) through() int64 {
	if len(p.records) == 0 {
		return p.after
	}
	return p.records[len(p.records)-1].sequence
}

// Number gives numbers to everything committed before the call. Reading the feed does it anyway; this is for those who
// look at the table itself.
func Number(ctx context.Context, db pg.Querier) error {
	var newest *int64
	if err := db.QueryRow(ctx, "SELECT max(insertion) FROM event_pending").Scan(&newest); err != nil {
		return fmt.Errorf("look for new events: %w", err)
	}
	for newest != nil {
		if _, err := db.Exec(ctx, "SELECT number_events($1)", mostNumbered); err != nil {
			return fmt.Errorf("number new events: %w", err)
		}
		var left bool
		if err := db.QueryRow(ctx, "SELECT EXISTS (SELECT FROM event_pending WHERE insertion <= $1)", *newest).Scan(&left); err != nil {
			return fmt.Errorf("look for new events: %w", err)
		}
		if !left {
			return nil
		}
	}
	return nil
}

// numberSome makes one step at most: under steady writing there is always more, and the reader has a page to send.
func numberSome(ctx context.Context, db pg.Querier) error {
	var pending bool
	// Without this look a reader of an idle log would take the head lock at every poll.
	if err := db.QueryRow(ctx, "SELECT EXISTS (SELECT FROM event_pending)").Scan(&pending); err != nil {
		return fmt.Errorf("look for new events: %w", err)
	}
	if !pending {
		return nil
	}
	if _, err := db.Exec(ctx, "SELECT number_events($1)", mostNumbered); err != nil {
		return fmt.Errorf("number new events: %w", err)
	}
	return nil
}

// One statement, so head and events come from one snapshot. The page goes on to the end of the transaction the limit
// falls into.
const selectPage = `
WITH edge AS (
    SELECT max(e.transaction_last_sequence) AS last
    FROM (SELECT transaction_last_sequence FROM event WHERE sequence > $1 ORDER BY sequence LIMIT $2) e
)
SELECT h.log_id::text, h.head_sequence, h.oldest_sequence, e.sequence, e.transaction_last_sequence, e.event_id, e.aggregate,
       e.occur_time, e.record_time, e.actor, e.request_id, e.type, e.payload
FROM feed_head h
LEFT JOIN LATERAL (
    SELECT * FROM event, edge WHERE sequence > $1 AND sequence <= edge.last
) e ON true
ORDER BY e.sequence`

// readPage numbers what is new and reads what follows after. It holds no connection when it returns.
func readPage(ctx context.Context, db pg.Querier, after int64, most int) (*page, error) {
	if err := numberSome(ctx, db); err != nil {
		return nil, err
	}
	rows, err := db.Query(ctx, selectPage, after, most)
	if err != nil {
		return nil, fmt.Errorf("read the feed: %w", err)
	}
	p := &page{after: after}
	p.records, err = pgx.AppendRows(p.records, rows, func(row pgx.CollectableRow) (record, error) { return scanPageRow(row, &p.head) })
	if err != nil {
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
