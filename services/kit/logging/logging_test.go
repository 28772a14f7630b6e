package logging_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"
	"go.uber.org/zap"
	"go.uber.org/zap/zaptest/observer"

	"barrelhead.example/services/kit/logging"
)

func TestNew_Levels(t *testing.T) {
	t.Parallel()
	log, err := logging.New("intake", "")
	require.NoError(t, err)
	require.True(t, log.Core().Enabled(zap.InfoLevel))
	require.False(t, log.Core().Enabled(zap.DebugLevel))

	log, err = logging.New("intake", "warn")
	require.NoError(t, err)
	require.False(t, log.Core().Enabled(zap.InfoLevel))

	_, err = logging.New("intake", "loud")
	require.ErrorContains(t, err, "loud")
}

func TestFrom(t *testing.T) {
	t.Parallel()
	core, lines := observer.New(zap.InfoLevel)
	ctx := logging.With(context.Background(), zap.New(core).With(zap.String("request_id", "r1")))
	logging.From(ctx).Info("weighed")
	require.Equal(t, "r1", lines.All()[0].ContextMap()["request_id"])

	logging.From(context.Background()).Info("nobody listens")
	require.Equal(t, 1, lines.Len())
}
