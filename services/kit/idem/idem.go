// Package idem makes every change safe to send twice: the first answer to a request_id is stored in the transaction of
// the change, and a repeat gets it again. A dock that lost its network may send everything a second time.
package idem

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/fnv"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"google.golang.org/protobuf/proto"

	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// Request is a mutating request.
type Request interface {
	proto.Message
	GetRequestId() string
}

const (
	// The lock makes a repeat that arrives during the first call wait for its outcome. It comes before every other lock.
	takeRequest  = `SELECT pg_advisory_xact_lock($1)`
	selectAnswer = `SELECT method, body_hash, response FROM request_ledger WHERE request_id = $1`
	insertAnswer = `INSERT INTO request_ledger (request_id, method, body_hash, response, record_time) VALUES ($1, $2, $3, $4, $5)`
)

// Do runs fn once per request_id and stores its answer and facts with the change; the same request again, by the same
// caller, gets the stored answer without running fn. fn must not change anything but the transaction: it may run again
// after a conflict. A failed call leaves no trace, so it may be tried again under the same id.
//
// Errors: *IDError for a request_id that is no UUID, *ReusedError for one used with another body, method or caller, and
// those of fn.
func Do[R proto.Message](ctx context.Context, db *pg.DB, clk clock.Clock, req Request,
	fn func(ctx context.Context, tx pgx.Tx) (R, []feed.Fact, error),
) (R, error) {
	var answer R
	c, err := newCall(ctx, db.Schema(), req)
	if err != nil {
		return answer, err
	}
	facts := 0
	err = db.InSteps(ctx, pg.Steps{Open: c.open, Do: func(ctx context.Context, tx pgx.Tx, closing *pgx.Batch) error {
		facts = 0
		if c.stored != nil {
			answer, err = replay[R](c)
			return err
		}
		made, happened, err := fn(ctx, tx)
		if err != nil {
			return err
		}
		answer, facts = made, len(happened)
		return c.close(closing, clk.Now(), made, happened)
	}})
	if err != nil {
		var none R
		return none, err
	}
	if facts > 0 {
		feed.Announce(db)
	}
	return answer, nil
}

// Stored is the answer a request has in the ledger, and whether it has one: a caller that must read much before Do asks it first, so that
// a repeat reads nothing. It takes no lock and no transaction; of a request that is being worked on it knows nothing, and Do waits for that.
//
// Errors: *IDError and *ReusedError as of Do.
func Stored[R proto.Message](ctx context.Context, db *pg.DB, req Request) (answer R, stored bool, err error) {
	c, err := newCall(ctx, db.Schema(), req)
	if err != nil {
		return answer, false, err
	}
	if err := c.lookIn(ctx, db); err != nil || c.stored == nil {
		return answer, false, err
	}
	answer, err = replay[R](c)
	return answer, true, err
}

// lookIn is lookUp outside a transaction.
func (c *call) lookIn(ctx context.Context, db *pg.DB) error {
	c.stored = nil
	b := &pgx.Batch{}
	c.lookUp(b)
	if err := db.Pool().SendBatch(ctx, b).Close(); err != nil {
		return fmt.Errorf("look into the request ledger: %w", err)
	}
	return nil
}

// call is one request on its way through the ledger.
type call struct {
	id       uuid.UUID
	lock     int64
	method   string
	actor    string
	bodyHash []byte
	stored   *stored
}

type stored struct {
	method             string
	bodyHash, response []byte
}

func newCall(ctx context.Context, schema string, req Request) (*call, error) {
	id, err := uuid.Parse(req.GetRequestId())
	if err != nil {
		return nil, &IDError{Given: req.GetRequestId()}
	}
	c := &call{id: id, method: string(req.ProtoReflect().Descriptor().FullName()), actor: access.From(ctx).Login}
	body, err := proto.MarshalOptions{Deterministic: true}.Marshal(req)
	if err != nil {
		return nil, fmt.Errorf("read the request: %w", err)
	}
	c.bodyHash, c.lock = hashOf(c.actor, body), lockOf(schema, id)
	return c, nil
}

// hashOf includes the caller: nobody may fetch another's answer by guessing its id and body.
func hashOf(actor string, body []byte) []byte {
	h := sha256.New()
	h.Write(binary.BigEndian.AppendUint64(nil, uint64(len(actor))))
	h.Write([]byte(actor))
	h.Write(body)
	return h.Sum(nil)
}

// lockOf may give two requests the same lock; then one waits for the other and nothing else happens.
func lockOf(schema string, id uuid.UUID) int64 {
	h := fnv.New64a()
	h.Write([]byte(schema))
	h.Write(id[:])
	return int64(h.Sum64()) //nolint:gosec // any 64 bits will do as a lock key
}

// open takes the lock first: the look into the ledger must come after the wait, with a snapshot of its own.
func (c *call) open(b *pgx.Batch) {
	c.stored = nil
	b.Queue(takeRequest, c.lock)
	c.lookUp(b)
}

// lookUp sets stored where the ledger has an answer.
func (c *call) lookUp(b *pgx.Batch) {
	b.Queue(selectAnswer, c.id).QueryRow(func(row pgx.Row) error {
		var s stored
		err := row.Scan(&s.method, &s.bodyHash, &s.response)
		if errors.Is(err, pgx.ErrNoRows) {
			return nil
		}
		c.stored = &s
		return err
	})
}

// close queues the last writes: ledger and events travel with the commit.
func (c *call) close(b *pgx.Batch, now time.Time, answer proto.Message, facts []feed.Fact) error {
	if err := c.record(b, now, answer); err != nil {
		return err
	}
	return c.append(b, now, facts)
}

func (c *call) record(b *pgx.Batch, now time.Time, answer proto.Message) error {
	response, err := proto.MarshalOptions{Deterministic: true}.Marshal(answer)
	if err != nil {
		return fmt.Errorf("store the answer: %w", err)
	}
	b.Queue(insertAnswer, c.id, c.method, c.bodyHash, response, now)
	return nil
}

func (c *call) append(b *pgx.Batch, now time.Time, facts []feed.Fact) error {
	return feed.Queue(b, now, feed.Meta{Actor: c.actor, RequestID: c.id.String()}, facts...)
}

func replay[R proto.Message](c *call) (R, error) {
	var none R
	if c.stored.method != c.method || string(c.stored.bodyHash) != string(c.bodyHash) {
		return none, &ReusedError{RequestID: c.id.String()}
	}
	answer, ok := none.ProtoReflect().Type().New().Interface().(R)
	if !ok {
		return none, fmt.Errorf("the answer type %T cannot be made anew", none)
	}
	if err := proto.Unmarshal(c.stored.response, answer); err != nil {
		return none, fmt.Errorf("read the stored answer: %w", err)
	}
	return answer, nil
}
