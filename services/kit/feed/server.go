package feed

import (
	"context"
	"fmt"
	"math/rand/v2"
	"strconv"
	"sync"
	"time"

	"google.golang.org/grpc"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/pg"
)

const (
	defaultPage      = 500
	defaultPoll      = 2 * time.Second
	defaultHeartbeat = 10 * time.Second
	defaultGather    = 10 * time.Millisecond
)

// Server implements FeedService over the log of one schema.
type Server struct {
	feedv1.UnsafeFeedServiceServer
	db        *pg.DB
	pages     *pages
	poll      time.Duration
	heartbeat time.Duration
	draining  func(context.Context) <-chan struct{}
	drained   chan struct{}
	drainOnce sync.Once
}

// ServerOption adjusts a Server.
type ServerOption func(*Server)

// WithPoll sets how often the log is looked at when no notice arrives; default 2 s.
func WithPoll(d time.Duration) ServerOption { return func(s *Server) { s.poll = d } }

// WithHeartbeat sets how long a stream may be silent; default 10 s.
func WithHeartbeat(d time.Duration) ServerOption { return func(s *Server) { s.heartbeat = d } }

// WithDraining takes the signal at which streams end from the call's context, as rpcserve.Draining gives it.
func WithDraining(of func(context.Context) <-chan struct{}) ServerOption {
	return func(s *Server) { s.draining = of }
}

// NewServer serves db's log. Run its Run beside it, so that events written by other replicas arrive without polling.
func NewServer(db *pg.DB, opts ...ServerOption) *Server {
	s := &Server{
		db: db, pages: newPages(defaultGather), poll: defaultPoll, heartbeat: defaultHeartbeat, drained: make(chan struct{}),
		draining: func(context.Context) <-chan struct{} { return nil },
	}
	for _, opt := range opts {
		opt(s)
	}
	return s
}

// Run listens for the announcements of other processes until ctx ends.
func (s *Server) Run(ctx context.Context) error { return s.db.Listen(ctx, channel(s.db)) }

// Drain ends all streams with UNAVAILABLE, so that their readers go to another replica. It is safe to call twice.
func (s *Server) Drain() { s.drainOnce.Do(func() { close(s.drained) }) }

// Watch implements feedv1.FeedServiceServer.
func (s *Server) Watch(req *feedv1.WatchRequest, stream grpc.ServerStreamingServer[feedv1.WatchResponse]) error {
	w := &watch{server: s, req: req, stream: stream, after: req.GetAfterSequence(), most: int(req.GetMaxEvents())}
	if w.most == 0 {
		w.most = defaultPage
	}
	return w.run(stream.Context())
}

// watch is one stream. Events and heartbeats leave through the same loop, so a heartbeat cannot overtake an event, and
// no connection is held while a page is sent, so a slow reader costs the database nothing.
type watch struct {
	server *Server
	req    *feedv1.WatchRequest
	stream grpc.ServerStreamingServer[feedv1.WatchResponse]
	after  int64
	most   int
	known  head // as last sent
}

func (w *watch) run(ctx context.Context) error {
	heartbeat := time.NewTimer(0) // the first answer is due at once: it tells the reader the log's identity and head
	defer heartbeat.Stop()
	for {
		// Taken before reading: what is committed after the read rings this very bell.
		bell := w.server.db.Bell(channel(w.server.db))
		p, err := w.read(ctx)
		if err != nil {
			return err
		}
		if err := w.check(&p.head); err != nil {
			return err
		}
		if len(p.records) == 0 {
			due, err := w.await(ctx, bell, heartbeat.C)
			if err != nil {
				return err
			}
			if !due {
				continue
			}
		}
		if err := w.send(p); err != nil {
			return err
		}
		heartbeat.Reset(w.server.heartbeat)
	}
}

// read begins every stream with a reading of its own: a page from another stream is right about what follows the position,
// but it may be older than this stream and know a lower head, or a log that has been replaced since.
func (w *watch) read(ctx context.Context) (*page, error) {
	if w.known.logID != "" {
		p, err := w.server.pages.read(ctx, w.server.db.Pool(), place{w.after, w.most})
		if err != nil || p.head.logID == w.known.logID {
			return p, err
		}
	}
	return readPage(ctx, w.server.db.Pool(), w.after, w.most)
}

// check refuses a position that does not belong to this log, also when the log was replaced under an open stream.
func (w *watch) check(h *head) error {
	switch {
	case w.req.GetLogId() != "" && w.req.GetLogId() != h.logID:
		return apierr.Reason(errorv1.Reason_REASON_FEED_LOG_CHANGED,
			"the position belongs to another log: this one was restored or replaced, rebuild what was made from it",
			map[string]string{"log_id": h.logID})
	case w.after < h.oldest-1:
		return apierr.Reason(errorv1.Reason_REASON_FEED_COMPACTED,
			fmt.Sprintf("events up to %d are no longer kept, the position is %d: rebuild from the oldest", h.oldest-1, w.after),
			map[string]string{"oldest_sequence": strconv.FormatInt(h.oldest, 10)})
	case w.after > h.sequence:
		return apierr.Reason(errorv1.Reason_REASON_FEED_CURSOR_AHEAD,
			fmt.Sprintf("the position %d is beyond the newest event %d: the log was restored to an earlier state", w.after, h.sequence),
			map[string]string{"head_sequence": strconv.FormatInt(h.sequence, 10)})
	}
	return nil
}

// await reports that a heartbeat is due, or false when it is time to look again.
func (w *watch) await(ctx context.Context, bell <-chan struct{}, heartbeat <-chan time.Time) (due bool, err error) {
	poll := time.NewTimer(w.server.poll + rand.N(w.server.poll/4+1)) //nolint:gosec // spreads the replicas' polls, no secret
	defer poll.Stop()
	select {
	case <-heartbeat:
		return true, nil
	case <-bell:
		return false, nil
	case <-poll.C:
		return false, nil
	case <-w.server.drained:
	case <-w.server.draining(ctx):
	case <-ctx.Done():
		return false, ctx.Err()
	}
	return false, apierr.Unavailable(errDraining)
}

func (w *watch) send(p *page) error {
	w.known.logID, w.known.sequence = p.head.logID, max(w.known.sequence, p.head.sequence)
	err := w.stream.Send(&feedv1.WatchResponse{
		LogId: w.known.logID, AfterSequence: p.after, ThroughSequence: p.through(), HeadSequence: w.known.sequence, Events: p.events(),
	})
	if err != nil {
		return err
	}
	w.after = p.through()
	return nil
}
