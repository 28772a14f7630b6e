// Package rpc serves barrelhead.intake.v1: it reads requests, runs commands through the ledger of requests, and writes
// answers. It holds no rule but how a request is spelled.
package rpc

import (
	"context"

	"github.com/jackc/pgx/v5"
	"google.golang.org/protobuf/proto"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/app"
	"barrelhead.example/services/intake/internal/message"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/pg"
)

// Server implements IntakeService. Embedding the unsafe server makes a forgotten RPC a compile error.
type Server struct {
	intakev1.UnsafeIntakeServiceServer
	app   *app.App
	db    *pg.DB
	write message.Writer
}

// New serves a.
func New(a *app.App, db *pg.DB) *Server {
	return &Server{app: a, db: db, write: message.Writer{Unit: a.Unit, Currency: a.Currency}}
}

// command is one of the app's commands.
type command[D any] func(ctx context.Context, tx pg.Querier) (D, []feed.Fact, error)

// once runs a command under the request's id and writes its result as the answer.
func once[D any, R proto.Message](ctx context.Context, s *Server, req idem.Request, run command[D], write func(D) R) (R, error) {
	return idem.Do(ctx, s.db, s.app.Clock, req, func(ctx context.Context, tx pgx.Tx) (R, []feed.Fact, error) {
		result, facts, err := run(ctx, tx)
		if err != nil {
			var none R
			return none, nil, err
		}
		return write(result), facts, nil
	})
}
