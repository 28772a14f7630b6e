package inventory

import (
	"context"
	"fmt"

	"barrelhead.example/migrations"
	"barrelhead.example/services/kit/feed"
	"go.uber.org/zap"
)

// Migrate brings the schema to the newest version. The connection string must be that of the schema's owner.
func Migrate(ctx context.Context, cfg Config) error {
	url, err := cfg.Database.Connection()
	if err != nil {
		return err
	}
	return migrations.Up(ctx, schema, url)
}

// Rebuild fills the read tables of a source ("intake" or "grading") again from the start of its feed. Services may run
// meanwhile; readers see the old rows until the new ones are complete.
func Rebuild(ctx context.Context, cfg Config, source string) error {
	return operate(ctx, cfg, source, func(s *service, c *feed.Consumer) error {
		return c.RebuildWith(ctx, func(done, of int64) {
			s.log.Info("rebuilding", zap.String("source", source), zap.Int64("done", done), zap.Int64("of", of))
		})
	})
}

// Retry makes a halted source try its event again.
func Retry(ctx context.Context, cfg Config, source string) error {
	return operate(ctx, cfg, source, func(_ *service, c *feed.Consumer) error { return c.Retry(ctx) })
}

// Skip passes over the event a source is halted at; who decided so and why is recorded.
func Skip(ctx context.Context, cfg Config, source string, sequence int64, reason, actor string) error {
	return operate(ctx, cfg, source, func(_ *service, c *feed.Consumer) error {
		return c.Skip(ctx, sequence, reason, actor)
	})
}

func operate(ctx context.Context, cfg Config, source string, do func(*service, *feed.Consumer) error) error {
	s, err := open(ctx, cfg)
	if err != nil {
		return err
	}
	defer s.close()
	c, ok := s.consumers[source]
	if !ok {
		return fmt.Errorf("inventory follows intake and grading, not %q", source)
	}
	return do(s, c)
}
