package pgrun

import (
	"context"
	"errors"
	"fmt"
)

// RunningError means that another process runs the cluster.
type RunningError struct{ Dir string }

func (e *RunningError) Error() string {
	return fmt.Sprintf("the cluster in %s is already run by another process", e.Dir)
}

// Visit works on a cluster whether or not another process runs it: one that nobody runs is started for as long as work
// takes. Only clusters without TCP can be visited while they run, since their port is known.
func Visit(ctx context.Context, config Config, work func(ctx context.Context, c *Cluster) error) error {
	c, err := Start(ctx, config)
	if running, ok := errors.AsType[*RunningError](err); ok && !config.TCP {
		if err := config.fill(); err != nil {
			return err
		}
		config.Dir = running.Dir
		return work(ctx, &Cluster{config: config, socketDir: config.socketDir(), port: defaultSocketPort})
	}
	if err != nil {
		return err
	}
	return errors.Join(work(ctx, c), c.Stop(context.WithoutCancel(ctx)))
}
