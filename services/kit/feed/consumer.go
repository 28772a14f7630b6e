package feed

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
	"go.uber.org/zap"
	"google.golang.org/grpc"

	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/pg"
)

const (
	firstPause  = 200 * time.Millisecond
	longPause   = 30 * time.Second
	notYetPause = time.Second
	// stallAfter is three heartbeats: a stream silent for longer is dead, even if its connection does not say so.
	stallAfter = 3 * defaultHeartbeat
	// haltPoll is how often a halted source looks whether another process was told to retry or skip.
	haltPoll = 2 * time.Second
	// poisonAttempts on the single event that fails, before the source is halted.
	poisonAttempts = 5
	// largestPage is the client's limit for one answer; a page holds whole transactions and a transaction may be large.
	largestPage = 256 << 20
)

var callOptions = []grpc.CallOption{grpc.MaxCallRecvMsgSize(largestPage)}

// Consumer applies one neighbour's feed. Fill in the fields and call Run; any number of replicas may run the same one.
type Consumer struct {
	// Name identifies the cursor within the service, e.g. "stock". Required.
	Name string
	// Source is the neighbour's name, e.g. "intake". Required.
	Source string
	// DB holds cursor and read tables. Required.
	DB *pg.DB
	// Client reads the neighbour's feed. Required, except for Retry and Skip.
	Client feedv1.FeedServiceClient
	// Apply takes in one event and returns facts of this service's own that follow from it; they are recorded in the same
	// transaction under the same request id. It runs again after a transient failure, so it changes the transaction
	// only. Events of types unknown to this program do not reach it. Required.
	Apply func(ctx context.Context, tx pgx.Tx, ev Event) ([]Fact, error)
	// ReadTables are emptied by Rebuild and filled again by Apply, in this order, so referenced tables come last. The
	// service role needs DELETE on them.
	ReadTables []string
	// Clock defaults to the system's.
	Clock clock.Clock
	// Log defaults to that of DB.
	Log *zap.Logger
	// MaxEvents of a page, 0 for the server's default.
	MaxEvents int32
	// StallAfter defaults to 30 s, three heartbeats of the server.
	StallAfter time.Duration
	// FirstPause is the shortest wait after a failure, doubled up to 30 s; default 200 ms.
	FirstPause time.Duration

	filled  sync.Once
	fillErr error
}

// Run follows the source until ctx ends, then returns nil. Failures are logged and tried again; an event that cannot be
// applied halts the source until Retry, Skip or Rebuild.
func (c *Consumer) Run(ctx context.Context) error {
	if err := c.fill(); err != nil {
		return err
	}
	for pause := c.FirstPause; ; {
		moved, err := c.follow(ctx)
		if ctx.Err() != nil {
			return nil //nolint:nilerr // being told to stop is the ordinary end
		}
		if moved {
			pause = c.FirstPause
		}
		if err != nil {
			c.report(err, pause)
		}
		if !c.sleep(ctx, pause) {
			return nil
		}
		pause = min(2*pause, longestPause(err))
	}
}

// fill may be called by an operator's command while the consumer runs.
func (c *Consumer) fill() error {
	c.filled.Do(func() {
		if c.Name == "" || c.Source == "" || c.DB == nil || c.Apply == nil {
			c.fillErr = errors.New("a consumer needs a name, a source, a database and an apply function")
			return
		}
		if c.Clock == nil {
			c.Clock = clock.System
		}
		if c.Log == nil {
			c.Log = c.DB.Log()
		}
		c.StallAfter = cmp.Or(c.StallAfter, stallAfter)
		c.FirstPause = cmp.Or(c.FirstPause, firstPause)
	})
	return c.fillErr
}

// longestPause is short while another feed is behind: it usually is by seconds, and people wait for the outcome.
func longestPause(err error) time.Duration {
	if notYet(err) {
		return notYetPause
	}
	return longPause
}

// report is quiet about what happens at every deployment of a neighbour.
func (c *Consumer) report(err error, pause time.Duration) {
	fields := []zap.Field{zap.String("consumer", c.Name), zap.String("source", c.Source), zap.Error(err), zap.Duration("retry", pause)}
	if transient(err) || overtaken(err) || errors.Is(err, errStalled) {
		c.Log.Info("feed interrupted", fields...)
		return
	}
	c.Log.Error("feed interrupted", fields...)
}

func (c *Consumer) sleep(ctx context.Context, pause time.Duration) bool {
	timer := time.NewTimer(pause/2 + rand.N(pause/2+1)) //nolint:gosec // jitter needs no secrecy
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return false
	case <-timer.C:
		return true
	}
}

// follow opens one stream from the cursor and applies its pages. moved reports that at least one page was applied.
func (c *Consumer) follow(ctx context.Context) (moved bool, err error) {
	cur, err := c.awaitUnhalted(ctx)
	if err != nil {
		return false, err
	}
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	watchdog := time.AfterFunc(c.StallAfter, func() { cancel(errStalled) })
	defer watchdog.Stop()
	stream, err := c.Client.Watch(ctx, &feedv1.WatchRequest{
		LogId: cur.logID, AfterSequence: cur.sequence, MaxEvents: c.MaxEvents,
	}, callOptions...)
	if err != nil {
		return false, fmt.Errorf("open the feed of %s: %w", c.Source, err)
	}
	for position := cur.sequence; ; {
		answer, err := stream.Recv()
		if err != nil {
			return moved, c.ended(ctx, position, err)
		}
		// Applying may take longer than a heartbeat; only the wait for the neighbour is watched.
		watchdog.Stop()
		if position, err = c.take(ctx, position, answer); err != nil {
			return moved, err
		}
		moved = true
		watchdog.Reset(c.StallAfter)
	}
}

var errStalled = errors.New("the feed was silent for too long")

// ended halts the source where the position itself is refused: no retry can mend that, an operator must rebuild.
func (c *Consumer) ended(ctx context.Context, position int64, err error) error {
	if cause := context.Cause(ctx); errors.Is(cause, errStalled) {
		return cause
	}
	switch details := apierr.Parse(err); details.Reason {
	case "FEED_LOG_CHANGED", "FEED_COMPACTED", "FEED_CURSOR_AHEAD":
		return c.halt(ctx, position+1, fmt.Errorf("%s: %s", details.Reason, details.Message))
	}
	return fmt.Errorf("read the feed of %s: %w", c.Source, err)
}

// take checks that the page follows the last one without a gap, and applies it.
func (c *Consumer) take(ctx context.Context, position int64, answer *feedv1.WatchResponse) (int64, error) {
	if answer.GetAfterSequence() != position {
		return position, &GapError{Expected: position, Got: answer.GetAfterSequence()}
	}
	for i, ev := range answer.GetEvents() {
		if want := position + int64(i) + 1; ev.GetSequence() != want {
			return position, &GapError{Expected: want - 1, Got: ev.GetSequence() - 1}
		}
	}
	if through := position + int64(len(answer.GetEvents())); through != answer.GetThroughSequence() {
		return position, &GapError{Expected: through, Got: answer.GetThroughSequence()}
	}
	if err := c.apply(ctx, answer, answer.GetEvents()); err != nil {
		return position, err
	}
	return answer.GetThroughSequence(), nil
}
