package pg

import (
	"context"
	"crypto/rand"
	"errors"
	"sync"
	"sync/atomic"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"go.uber.org/zap"
)

const (
	// noticeSpacing folds the notices of many commits into one: NOTIFY makes commits wait for each other, so it is kept
	// out of the writers' transactions and is sent a few times a second at most.
	noticeSpacing = 20 * time.Millisecond
	noticeTimeout = 2 * time.Second
	listenPing    = 5 * time.Second
	relistenPause = 200 * time.Millisecond
	relistenMost  = 10 * time.Second
)

// notices wakes whoever waits for news on a channel, in this process at once and in others through the database. A
// notice is a hint that may get lost; the tables are the truth and readers poll them too.
type notices struct {
	instance string // so that the process does not wake twice, by itself and by its own echo

	mu      sync.Mutex
	bells   map[string]chan struct{}
	due     map[string]bool
	sending bool

	listening atomic.Int32
}

func newNotices() *notices {
	return &notices{instance: rand.Text(), bells: map[string]chan struct{}{}, due: map[string]bool{}}
}

// Bell returns a channel that is closed by the next notice. Take it before looking at the tables, then nothing slips
// between looking and waiting.
func (db *DB) Bell(channel string) <-chan struct{} {
	n := db.notices
	n.mu.Lock()
	defer n.mu.Unlock()
	bell, ok := n.bells[channel]
	if !ok {
		bell = make(chan struct{})
		n.bells[channel] = bell
	}
	return bell
}

func (n *notices) ring(channel string) {
	n.mu.Lock()
	defer n.mu.Unlock()
	if bell, ok := n.bells[channel]; ok {
		close(bell)
		delete(n.bells, channel)
	}
}

// Announce tells every process listening on channel that something was committed. It does not wait.
func (db *DB) Announce(channel string) {
	n := db.notices
	n.ring(channel)
	n.mu.Lock()
	defer n.mu.Unlock()
	n.due[channel] = true
	if !n.sending {
		n.sending = true
		go db.sendNotices()
	}
}

func (db *DB) sendNotices() {
	for {
		channels := db.notices.takeDue()
		if len(channels) == 0 {
			return
		}
		ctx, cancel := context.WithTimeout(context.Background(), noticeTimeout)
		err := db.notify(ctx, channels)
		cancel()
		if err != nil && !errors.Is(err, ErrClosed) {
			db.log.Debug("notice not sent, readers find the news when they poll", zap.Error(err))
		}
		time.Sleep(noticeSpacing) //nolint:forbidigo // the pause is the purpose; nothing waits for it
	}
}

// takeDue also ends the sender when nothing is due, under the same lock under which Announce would start another.
func (n *notices) takeDue() []string {
	n.mu.Lock()
	defer n.mu.Unlock()
	channels := make([]string, 0, len(n.due))
	for channel := range n.due {
		channels = append(channels, channel)
	}
	clear(n.due)
	n.sending = len(channels) > 0
	return channels
}

// notify does not wait for the disk: a notice holds nothing that could be lost.
func (db *DB) notify(ctx context.Context, channels []string) error {
	conn, err := db.pool.Acquire(ctx)
	if err != nil {
		return err
	}
	defer conn.Release()
	defer rollback(ctx, conn)
	b := &pgx.Batch{}
	b.Queue("begin")
	b.Queue("SET LOCAL synchronous_commit = off")
	for _, channel := range channels {
		b.Queue("SELECT pg_notify($1, $2)", channel, db.notices.instance)
	}
	b.Queue("commit")
	return conn.SendBatch(ctx, b).Close()
}

// Listening reports whether notices of other processes arrive; without them readers are as late as their polling.
func (db *DB) Listening() bool { return db.notices.listening.Load() > 0 }

// Listen rings the bells for notices of other processes until ctx ends. It keeps one connection of its own outside the
// pool, asks it regularly whether it still lives, and replaces it when it does not.
func (db *DB) Listen(ctx context.Context, channels ...string) error {
	for pause := relistenPause; ; pause = min(2*pause, relistenMost) {
		began := db.clock.Now()
		err := db.listenOnce(ctx, channels)
		if ctx.Err() != nil {
			return nil //nolint:nilerr // being told to stop is the ordinary end
		}
		if db.clock.Now().Sub(began) > relistenMost {
			pause = relistenPause
		}
		db.log.Warn("listener lost its connection, feeds are as late as their polling", zap.Error(err), zap.Duration("retry", pause))
		if !sleep(ctx, pause) {
			return nil
		}
	}
}

func (db *DB) listenOnce(ctx context.Context, channels []string) error {
	config := db.pool.Config().ConnConfig
	config.RuntimeParams["application_name"] = db.schema + " listener"
	conn, err := pgx.ConnectConfig(ctx, config)
	if err != nil {
		return err
	}
	defer func() {
		closing, cancel := context.WithTimeout(context.WithoutCancel(ctx), noticeTimeout)
		defer cancel()
		// A dead connection cannot be closed politely, and nothing depends on it.
		_ = conn.Close(closing)
	}()
	for _, channel := range channels {
		if _, err := conn.Exec(ctx, "LISTEN "+pgx.Identifier{channel}.Sanitize()); err != nil {
			return err
		}
	}
	db.notices.listening.Add(1)
	defer db.notices.listening.Add(-1)
	// What was announced while nobody listened is found by looking once.
	for _, channel := range channels {
		db.notices.ring(channel)
	}
	for {
		if err := db.awaitNotice(ctx, conn); err != nil {
			return err
		}
	}
}

func (db *DB) awaitNotice(ctx context.Context, conn *pgx.Conn) error {
	waiting, cancel := context.WithTimeout(ctx, listenPing)
	defer cancel()
	notice, err := conn.WaitForNotification(waiting)
	switch {
	case err == nil:
		db.heard(notice)
		return nil
	case ctx.Err() != nil:
		return ctx.Err()
	case errors.Is(err, context.DeadlineExceeded) || pgconn.Timeout(err):
		// A peer that vanished without a word is found out only by asking.
		asking, cancel := context.WithTimeout(ctx, listenPing)
		defer cancel()
		return conn.Ping(asking)
	default:
		return err
	}
}

func (db *DB) heard(notice *pgconn.Notification) {
	if notice.Payload != db.notices.instance {
		db.notices.ring(notice.Channel)
	}
}
