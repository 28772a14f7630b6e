package pg

import (
	"errors"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/jackc/puddle/v2"
)

const (
	mostConns = 16
	// connLifetime plus up to lifetimeJitter: replicas started together must not reconnect together.
	connLifetime   = 50 * time.Minute
	lifetimeJitter = 10 * time.Minute
	// connectTimeout applies where the URL names none: a server that vanished without a word must not hold up a caller
	// for as long as the network takes to notice.
	connectTimeout = 10 * time.Second
	// pingTimeout bounds the question whether a connection that lay idle for a second still lives.
	pingTimeout = 5 * time.Second
)

// ErrClosed means that the pool was closed.
var ErrClosed = puddle.ErrClosedPool

func poolConfig(c Config) (*pgxpool.Config, error) {
	if c.Schema == "" {
		return nil, errors.New("the database configuration names no schema")
	}
	config, err := pgxpool.ParseConfig(c.URL)
	if err != nil {
		// The cause repeats the URL, and the URL may hold a password.
		return nil, errors.New("the database URL cannot be parsed")
	}
	config.MaxConns = mostConns
	if c.MaxConns > 0 {
		config.MaxConns = c.MaxConns
	}
	config.MaxConnLifetime = connLifetime
	config.MaxConnLifetimeJitter = lifetimeJitter
	config.PingTimeout = pingTimeout
	conn := config.ConnConfig
	if conn.ConnectTimeout == 0 {
		conn.ConnectTimeout = connectTimeout
	}
	conn.RuntimeParams["search_path"] = c.Schema
	conn.RuntimeParams["timezone"] = "UTC"
	conn.RuntimeParams["application_name"] = c.Schema
	// Our statements are short: compiling one costs more than all of them together, and a wrong guess about a table's size
	// is enough to set it off.
	conn.RuntimeParams["jit"] = "off"
	return config, nil
}
