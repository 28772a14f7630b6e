package pg

import (
	"context"
	"errors"
	"math/rand/v2"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"barrelhead.example/services/kit/clock"
)

const (
	// connLifetime is spread by a sixth, so that replicas started together do not reconnect together.
	connLifetime = time.Hour
	// idleBeforeCheck is how long a connection may lie idle before it is asked whether it still lives.
	idleBeforeCheck = time.Second
	closeTimeout    = 5 * time.Second
)

// ErrClosed means that the pool was closed.
var ErrClosed = errors.New("the database pool is closed")

// Pool lends connections, at most a fixed number at a time. Its methods are those of the driver's own connections, so
// code written against Querier cannot tell the difference.
// Begin is missing on purpose: DB.InTx is the one way to a transaction, because it retries and always ends it.
type Pool struct {
	config *pgx.ConnConfig
	slots  chan struct{} // one token per lent connection
	done   chan struct{} // closed by Close

	mu     sync.Mutex
	idle   []*Conn // newest last: the warmest connection is lent first
	open   int
	closed bool
}

// Stat is a snapshot for metrics.
type Stat struct{ Max, Open, Idle, Lent int }

func newPool(config *pgx.ConnConfig, most int32) *Pool {
	return &Pool{config: config, slots: make(chan struct{}, most), done: make(chan struct{})}
}

// Stat counts the connections.
func (p *Pool) Stat() Stat {
	p.mu.Lock()
	defer p.mu.Unlock()
	return Stat{Max: cap(p.slots), Open: p.open, Idle: len(p.idle), Lent: p.open - len(p.idle)}
}

// Config is a copy of the connection settings, e.g. for a dedicated connection outside the pool.
func (p *Pool) Config() *pgx.ConnConfig { return p.config.Copy() }

// Acquire borrows a connection, waiting for one to come back where all are lent. The caller must Release it.
// Errors: ErrClosed, the context's, and those of connecting.
func (p *Pool) Acquire(ctx context.Context) (*Conn, error) {
	select {
	case p.slots <- struct{}{}:
	case <-p.done:
		return nil, ErrClosed
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	conn, err := p.take(ctx)
	if err != nil {
		<-p.slots
		return nil, err
	}
	return conn, nil
}

func (p *Pool) take(ctx context.Context) (*Conn, error) {
	for {
		conn, err := p.popIdle()
		if err != nil {
			return nil, err
		}
		if conn == nil {
			return p.connect(ctx)
		}
		if conn.alive(ctx) {
			return conn, nil
		}
		p.discard(conn)
	}
}

func (p *Pool) popIdle() (*Conn, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.closed {
		return nil, ErrClosed
	}
	last := len(p.idle) - 1
	if last < 0 {
		return nil, nil // no idle connection is the ordinary case at start, not a fault
	}
	conn := p.idle[last]
	p.idle = p.idle[:last]
	return conn, nil
}

func (p *Pool) connect(ctx context.Context) (*Conn, error) {
	raw, err := pgx.ConnectConfig(ctx, p.config)
	if err != nil {
		return nil, err
	}
	p.mu.Lock()
	p.open++
	p.mu.Unlock()
	lifetime := connLifetime - rand.N(connLifetime/6) //nolint:gosec // jitter needs no secrecy
	return &Conn{Conn: raw, pool: p, retire: clock.System.Now().Add(lifetime)}, nil
}

func (p *Pool) discard(conn *Conn) {
	p.mu.Lock()
	p.open--
	p.mu.Unlock()
	ctx, cancel := context.WithTimeout(context.Background(), closeTimeout)
	defer cancel()
	// The server notices a connection that cannot say goodbye by itself.
	_ = conn.Conn.Close(ctx)
}

// putBack keeps a usable connection and destroys one that is dead, old, or still in a transaction.
func (p *Pool) putBack(conn *Conn) {
	defer func() { <-p.slots }()
	usable := !conn.IsClosed() && conn.PgConn().TxStatus() == 'I' && clock.System.Now().Before(conn.retire)
	conn.idleSince = clock.System.Now()
	p.mu.Lock()
	if usable = usable && !p.closed; usable {
		p.idle = append(p.idle, conn)
	}
	p.mu.Unlock()
	if !usable {
		p.discard(conn)
	}
}

// Close refuses new borrowers, waits for lent connections and closes all.
func (p *Pool) Close() {
	p.mu.Lock()
	if p.closed {
		p.mu.Unlock()
		return
	}
	p.closed = true
	close(p.done)
	idle := p.idle
	p.idle = nil
	p.mu.Unlock()
	for _, conn := range idle {
		p.discard(conn)
	}
	// Holding every slot means that nobody else holds one; they are kept, since nothing is lent any more.
	for range cap(p.slots) {
		p.slots <- struct{}{}
	}
}

// Ping asks the database for a sign of life.
func (p *Pool) Ping(ctx context.Context) error {
	conn, err := p.Acquire(ctx)
	if err != nil {
		return err
	}
	defer conn.Release()
	return conn.Conn.Ping(ctx)
}

// Exec runs one statement on a borrowed connection.
func (p *Pool) Exec(ctx context.Context, sql string, args ...any) (pgconn.CommandTag, error) {
	conn, err := p.Acquire(ctx)
	if err != nil {
		return pgconn.CommandTag{}, err
	}
	defer conn.Release()
	return conn.Conn.Exec(ctx, sql, args...)
}

// Query borrows a connection until the rows are closed or read to the end.
func (p *Pool) Query(ctx context.Context, sql string, args ...any) (pgx.Rows, error) {
	conn, err := p.Acquire(ctx)
	if err != nil {
		return errRows{err: err}, err
	}
	rows, err := conn.Conn.Query(ctx, sql, args...)
	if err != nil {
		conn.Release()
		return errRows{err: err}, err
	}
	return &lentRows{Rows: rows, conn: conn}, nil
}

// QueryRow borrows a connection until Scan.
func (p *Pool) QueryRow(ctx context.Context, sql string, args ...any) pgx.Row {
	conn, err := p.Acquire(ctx)
	if err != nil {
		return errRows{err: err}
	}
	return &lentRow{Row: conn.Conn.QueryRow(ctx, sql, args...), conn: conn}
}

// SendBatch borrows a connection until the results are closed.
func (p *Pool) SendBatch(ctx context.Context, b *pgx.Batch) pgx.BatchResults {
	conn, err := p.Acquire(ctx)
	if err != nil {
		return errBatch{err: err}
	}
	return &lentBatch{BatchResults: conn.Conn.SendBatch(ctx, b), conn: conn}
}
