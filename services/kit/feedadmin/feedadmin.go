// Package feedadmin serves FeedAdminService: what the operator of a service sees of its feeds and may do about them.
package feedadmin

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/types/known/timestamppb"

	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/pg"
)

const collection = "feedSources/"

// Server implements feedv1.FeedAdminServiceServer.
type Server struct {
	feedv1.UnsafeFeedAdminServiceServer
	db        *pg.DB
	clock     clock.Clock
	consumers map[string]*feed.Consumer
}

// New serves the consumers of one service, which may be running in this process or another.
func New(db *pg.DB, clk clock.Clock, consumers ...*feed.Consumer) *Server {
	s := &Server{db: db, clock: clk, consumers: map[string]*feed.Consumer{}}
	for _, c := range consumers {
		s.consumers[c.Name] = c
	}
	return s
}

// ListFeedSources implements the RPC.
func (s *Server) ListFeedSources(ctx context.Context, _ *feedv1.ListFeedSourcesRequest) (*feedv1.ListFeedSourcesResponse, error) {
	all, err := feed.Statuses(ctx, s.db.Pool())
	if err != nil {
		return nil, err
	}
	answer := &feedv1.ListFeedSourcesResponse{}
	for _, status := range all {
		answer.Sources = append(answer.Sources, toProto(status))
	}
	return answer, nil
}

// RetryFeedSource implements the RPC.
func (s *Server) RetryFeedSource(ctx context.Context, req *feedv1.RetryFeedSourceRequest) (*feedv1.FeedSource, error) {
	return s.change(ctx, req, func(ctx context.Context, tx pgx.Tx, c *feed.Consumer) error { return c.RetryIn(ctx, tx) })
}

// SkipFeedEvent implements the RPC.
func (s *Server) SkipFeedEvent(ctx context.Context, req *feedv1.SkipFeedEventRequest) (*feedv1.FeedSource, error) {
	return s.change(ctx, req, func(ctx context.Context, tx pgx.Tx, c *feed.Consumer) error {
		return c.SkipIn(ctx, tx, req.GetSequence(), req.GetReason(), access.From(ctx).Login)
	})
}

// named is a request about one source.
type named interface {
	idem.Request
	GetName() string
}

func (s *Server) change(ctx context.Context, req named, do func(context.Context, pgx.Tx, *feed.Consumer) error) (*feedv1.FeedSource, error) {
	c, err := s.consumer(req.GetName())
	if err != nil {
		return nil, err
	}
	answer, err := idem.Do(ctx, s.db, s.clock, req, func(ctx context.Context, tx pgx.Tx) (*feedv1.FeedSource, []feed.Fact, error) {
		if err := do(ctx, tx, c); err != nil {
			return nil, nil, err
		}
		source, err := s.load(ctx, tx, c.Name)
		return source, nil, err
	})
	if err != nil {
		return nil, err
	}
	c.Wake()
	return answer, nil
}

// RebuildFeedSource implements the RPC. A report that does not get through ends the rebuild without a trace: the caller
// has gone, and half a rebuild is none.
func (s *Server) RebuildFeedSource(req *feedv1.RebuildFeedSourceRequest, stream grpc.ServerStreamingServer[feedv1.RebuildFeedSourceResponse]) error {
	c, err := s.consumer(req.GetName())
	if err != nil {
		return err
	}
	ctx, cancel := context.WithCancelCause(stream.Context())
	defer cancel(nil)
	last := &feedv1.RebuildFeedSourceResponse{}
	err = c.RebuildWith(ctx, func(done, of int64) {
		last.DoneEvents, last.TotalEvents = done, of
		if err := stream.Send(&feedv1.RebuildFeedSourceResponse{DoneEvents: done, TotalEvents: of}); err != nil {
			cancel(err)
		}
	})
	if err != nil {
		return errors.Join(err, context.Cause(ctx))
	}
	if last.Source, err = s.load(ctx, s.db.Pool(), c.Name); err != nil {
		return err
	}
	return stream.Send(last)
}

// VerifyLog implements the RPC.
func (s *Server) VerifyLog(ctx context.Context, req *feedv1.VerifyLogRequest) (*feedv1.VerifyLogResponse, error) {
	kept, err := keptDigests(req)
	if err != nil {
		return nil, err
	}
	if err := feed.Number(ctx, s.db.Pool()); err != nil {
		return nil, err
	}
	checked, digest, err := feed.VerifyAgainst(ctx, s.db, kept)
	answer := &feedv1.VerifyLogResponse{CheckedEvents: checked}
	var broken *feed.BrokenChainError
	if errors.As(err, &broken) {
		answer.BrokenSequence, answer.Cause = broken.Sequence, broken.Cause
		return answer, nil
	}
	if digest.Sequence > 0 {
		answer.Digest = &feedv1.LogDigest{LogId: digest.LogID, Sequence: digest.Sequence, Chain: hex.EncodeToString(digest.Chain)}
	}
	return answer, err
}

func keptDigests(req *feedv1.VerifyLogRequest) ([]feed.Digest, error) {
	kept := make([]feed.Digest, len(req.GetKept()))
	for i, d := range req.GetKept() {
		chain, err := hex.DecodeString(d.GetChain())
		if err != nil || len(chain) != sha256.Size || d.GetSequence() < 1 || d.GetLogId() == "" {
			return nil, apierr.Field(fmt.Sprintf("kept[%d]", i), "is no digest; it needs the log, an event and 64 hexadecimal digits")
		}
		kept[i] = feed.Digest{LogID: d.GetLogId(), Sequence: d.GetSequence(), Chain: chain}
	}
	return kept, nil
}

func (s *Server) consumer(name string) (*feed.Consumer, error) {
	short, ok := strings.CutPrefix(name, collection)
	if c, known := s.consumers[short]; ok && known {
		return c, nil
	}
	return nil, apierr.NotFound(name)
}

func (s *Server) load(ctx context.Context, db pg.Querier, consumer string) (*feedv1.FeedSource, error) {
	all, err := feed.Statuses(ctx, db)
	if err != nil {
		return nil, err
	}
	for _, status := range all {
		if status.Consumer == consumer {
			return toProto(status), nil
		}
	}
	return nil, apierr.NotFound(collection + consumer)
}

func toProto(s feed.Status) *feedv1.FeedSource {
	source := &feedv1.FeedSource{
		Name: collection + s.Consumer, Source: s.Source, LogId: s.LogID, Sequence: s.Sequence, HeadSequence: s.HeadSequence,
		UpdateTime: timestamppb.New(s.UpdateTime),
	}
	if s.HaltedSequence > 0 {
		source.Halt = &feedv1.FeedHalt{Sequence: s.HaltedSequence, Reason: s.HaltedReason, HaltTime: timestamppb.New(s.HaltTime)}
	}
	return source
}
