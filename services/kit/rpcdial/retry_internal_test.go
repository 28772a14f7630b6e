package rpcdial

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestServiceConfig_RepeatsOnlyUnavailable(t *testing.T) {
	t.Parallel()
	var read struct {
		LoadBalancingConfig []map[string]any
		HealthCheckConfig   map[string]string
		MethodConfig        []methodConfig
	}
	require.NoError(t, json.Unmarshal([]byte(serviceConfig()), &read))
	require.Contains(t, read.LoadBalancingConfig[0], "round_robin")
	require.Empty(t, read.HealthCheckConfig["serviceName"], "the health of the whole server")
	for _, m := range read.MethodConfig {
		require.Equal(t, []string{"UNAVAILABLE"}, m.RetryPolicy.RetryableStatusCodes)
		for _, n := range m.Name {
			require.NotEmpty(t, n.Method, "a policy for a whole service would cover its streams")
		}
	}
}
