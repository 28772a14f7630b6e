package feed

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
)

// BrokenChainError means that the log is not what was once recorded.
type BrokenChainError struct {
	// Sequence is the first event that does not fit: changed, missing, or the last one where the end was cut off.
	Sequence int64
	Cause    string
}

func (e *BrokenChainError) Error() string {
	return fmt.Sprintf("the event log was tampered with: event %d %s", e.Sequence, e.Cause)
}

// canonical is the content an event contributes to the chain: numbers as 8 bytes, big endian, times in microseconds
// since 1970, texts and payload preceded by their length in 4 bytes. number_events computes the same in SQL; doing it
// here a second time is what makes the check independent.
func (r *record) canonical() []byte {
	b := binary.BigEndian.AppendUint64(nil, uint64(r.sequence))     //nolint:gosec // the bits are wanted, not the value
	b = binary.BigEndian.AppendUint64(b, uint64(r.transactionLast)) //nolint:gosec // as above
	b = append(b, r.id[:]...)
	b = appendSized(b, []byte(r.aggregate))
	b = appendMicros(b, r.occurTime)
	b = appendMicros(b, r.recordTime)
	for _, text := range []string{r.actor, r.requestID, r.typeName} {
		b = appendSized(b, []byte(text))
	}
	return appendSized(b, r.payload)
}

func appendSized(b, value []byte) []byte {
	b = binary.BigEndian.AppendUint32(b, uint32(len(value))) //nolint:gosec // PostgreSQL values end at 1 GB
	return append(b, value...)
}

func appendMicros(b []byte, t time.Time) []byte {
	return binary.BigEndian.AppendUint64(b, uint64(t.UnixMicro()))
}

const selectChain = `
SELECT sequence, transaction_last_sequence, event_id, aggregate, occur_time, record_time, actor, request_id, type, payload, chain
FROM event ORDER BY sequence`

// Verify recomputes the chain over the whole log and returns the number of events checked. A log that begins at 1 is
// checked from its origin, a compacted one from its oldest event on. Errors: *BrokenChainError at the first event that
// was changed, removed, inserted or reordered; an end that was cut off shows as a head without its event.
func Verify(ctx context.Context, db *pg.DB) (int64, error) {
	checked, _, err := VerifyAgainst(ctx, db, nil)
	return checked, err
}

// VerifyAgainst is Verify, and compares the log with digests that were kept elsewhere: so an end that was cut off shows also
// where the head was set back with it, and so does a chain that was made anew. Digests of compacted events are left out. It
// gives the digest of the log as it is.
func VerifyAgainst(ctx context.Context, db *pg.DB, kept []Digest) (int64, Digest, error) {
	v := verifier{kept: kept}
	err := db.InSnapshot(ctx, func(ctx context.Context, tx pgx.Tx) error {
		// A long log takes longer than the limit for ordinary statements.
		if _, err := tx.Exec(ctx, "SET LOCAL statement_timeout = 0"); err != nil {
			return err
		}
		return v.run(ctx, tx)
	})
	if err != nil {
		return v.checked, Digest{}, fmt.Errorf("verify the event log: %w", err)
	}
	return v.checked, Digest{LogID: v.log, Sequence: v.last, Chain: v.chain}, nil
}

type verifier struct {
	checked int64
	last    int64
	chain   []byte
	log     string
	kept    []Digest
	// good is the last event a kept digest vouches for.
	good int64
}

func (v *verifier) run(ctx context.Context, tx pgx.Tx) error {
	var headSequence, oldest int64
	var headChain []byte
	const selectHead = "SELECT log_id::text, head_sequence, oldest_sequence, head_chain FROM feed_head"
	if err := tx.QueryRow(ctx, selectHead).Scan(&v.log, &headSequence, &oldest, &headChain); err != nil {
		return fmt.Errorf("read the head: %w", err)
	}
	if err := v.begin(oldest); err != nil {
		return err
	}
	v.last = oldest - 1
	if oldest == 1 {
		origin := sha256.Sum256(nil)
		v.chain = origin[:]
	}
	rows, err := tx.Query(ctx, selectChain)
	if err != nil {
		return err
	}
	var r record
	var stored []byte
	_, err = pgx.ForEachRow(rows, []any{
		&r.sequence, &r.transactionLast, &r.id, &r.aggregate, &r.occurTime, &r.recordTime, &r.actor, &r.requestID,
		&r.typeName, &r.payload, &stored,
	}, func() error { return v.step(&r, stored) })
	if err != nil {
		return err
	}
	return v.compareHead(headSequence, headChain)
}

func (v *verifier) step(r *record, stored []byte) error {
	if r.sequence != v.last+1 {
		return &BrokenChainError{v.last + 1, "is missing"}
	}
	if v.chain != nil {
		sum := sha256.Sum256(append(v.chain, r.canonical()...))
		if !bytes.Equal(sum[:], stored) {
			return &BrokenChainError{r.sequence, "is not what was recorded"}
		}
	}
	v.checked, v.last, v.chain = v.checked+1, r.sequence, bytes.Clone(stored)
	return v.compareKept()
}

func (v *verifier) compareHead(sequence int64, chain []byte) error {
	if sequence != v.last {
		return &BrokenChainError{min(sequence, v.last) + 1, fmt.Sprintf("is where the log and its head part: the head says %d, the log ends at %d", sequence, v.last)}
	}
	if v.chain != nil && !bytes.Equal(chain, v.chain) {
		return &BrokenChainError{sequence, "does not lead to the recorded head"}
	}
	if len(v.kept) > 0 {
		return &BrokenChainError{v.last + 1, fmt.Sprintf("is gone: a kept digest reaches to event %d, and the log ends at %d", v.kept[len(v.kept)-1].Sequence, v.last)}
	}
	return nil
}
