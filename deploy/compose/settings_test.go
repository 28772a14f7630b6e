package compose_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway"
	"barrelhead.example/services/grading"
	"barrelhead.example/services/intake"
	"barrelhead.example/services/inventory"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/settlement"
)

// TestSettings_AreTakenByTheirServices reads the settings as the containers do.
func TestSettings_AreTakenByTheirServices(t *testing.T) {
	t.Parallel()
	var (
		dock      intake.Config
		lab       grading.Config
		warehouse inventory.Config
		office    settlement.Config
		front     gateway.Config
	)
	for name, s := range map[string]struct {
		into   any
		shared *config.Service
	}{
		"intake": {&dock, &dock.Service}, "grading": {&lab, &lab.Service}, "inventory": {&warehouse, &warehouse.Service},
		"settlement": {&office, &office.Service}, "gateway": {&front, &front.Service},
	} {
		require.NoError(t, config.Load(name+".json", s.into))
		require.Equal(t, name, s.shared.Name)
		require.Equal(t, "Fallow Creek Honey Cooperative", s.shared.Cooperative.Name)
		require.Equal(t, "/run/secrets/"+name+".url", s.shared.Database.URLFile, "where prepare puts it")
		require.Equal(t, "/run/secrets/"+name+".key", s.shared.TLS.Key, "where prepare puts it")
		require.Len(t, s.shared.Peers, 4)
		for peer, address := range s.shared.Peers {
			require.Contains(t, address, "dns:///"+peer+":", "one name for the container, the certificate and the peer")
		}
	}
	require.Equal(t, gateway.TransportProxy, front.Transport, "without a certificate it must be told who ends TLS")
}
