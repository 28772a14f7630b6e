package config_test

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/config"
)

// packing stands for the settings of a service: the shared ones and its own.
type packing struct {
	config.Service
	Lines   int             `json:"lines"`
	Patient config.Duration `json:"patient"`
}

const good = `{
  "name": "intake", "listen": ":7101", "debug_listen": "127.0.0.1:7201",
  "database": {"url_file": "URLFILE"},
  "tls": {"ca": "ca.pem", "cert": "intake.pem", "key": "intake.key"},
  "peers": {"grading": "dns:///grading:7102"},
  "cooperative": {"name": "Fallow Creek Honey Cooperative", "site": "FC", "unit": "LB", "currency": "USD", "time_zone": "America/Chicago"},
  "lines": 3, "patient": "2s"
}`

func write(t *testing.T, content string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "settings.json")
	require.NoError(t, os.WriteFile(path, []byte(content), 0o600))
	return path
}

func TestLoad(t *testing.T) {
	t.Parallel()
	cfg := packing{Service: config.Service{LogLevel: "warn"}}
	require.NoError(t, config.Load(write(t, good), &cfg))
	require.Equal(t, "intake", cfg.Name)
	require.Equal(t, "dns:///grading:7102", cfg.Peers["grading"])
	require.Equal(t, 3, cfg.Lines)
	require.Equal(t, 2*time.Second, time.Duration(cfg.Patient))
	require.Equal(t, "warn", cfg.LogLevel, "an absent setting keeps its default")
	zone, err := cfg.Cooperative.Location()
	require.NoError(t, err)
	require.Equal(t, "America/Chicago", zone.String())
}

func TestLoad_AllFaultsAtOnce(t *testing.T) {
	t.Parallel()
	err := config.Load(write(t, `{
		"lissten": ":1", "lines": "three", "patient": "soon", "reflection": "yes",
		"database": {"url": "postgres://intake:hush@db/fc", "pool": 3},
		"tls": {"ca": "ca.pem"},
		"peers": {"grading": ""},
		"cooperative": {"site": "fallow", "unit": "STONE", "time_zone": "Creek/Side"}
	}`), &packing{})
	var faults *config.Error
	require.ErrorAs(t, err, &faults)
	var paths []string
	for _, f := range faults.Faults {
		paths = append(paths, f.Path)
	}
	require.Equal(t, []string{
		"cooperative.currency", "cooperative.name", "cooperative.site", "cooperative.time_zone", "cooperative.unit",
		"database.pool", "database.url", "lines", "lissten", "listen", "patient", "peers.grading", "reflection",
		"tls.cert", "tls.key",
	}, paths)
	require.ErrorContains(t, err, "lissten is not a setting")
	require.ErrorContains(t, err, "lines is a string, must be a whole number")
	require.NotContains(t, err.Error(), "hush")
}

func TestLoad_RefusesWhatIsNotOneObject(t *testing.T) {
	t.Parallel()
	for name, content := range map[string]string{
		"empty": ``, "a list": `[]`, "null": `null`, "two": good + good, "cut off": `{"listen": ":1"`, "inner list": `{"tls": []}`,
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			require.Error(t, config.Load(write(t, content), &packing{}))
		})
	}
	require.Error(t, config.Load(filepath.Join(t.TempDir(), "absent.json"), &packing{}))
	require.Error(t, config.Load(write(t, good), packing{}))
}

func TestDatabase_ConnectionPrefersTheFile(t *testing.T) {
	t.Parallel()
	secret := write(t, "postgres://intake:hush@db/fc\n")
	got, err := config.Database{URL: "postgres://db/other", URLFile: secret}.Connection()
	require.NoError(t, err)
	require.Equal(t, "postgres://intake:hush@db/fc", got)

	got, err = config.Database{URL: "postgres://db/other"}.Connection()
	require.NoError(t, err)
	require.Equal(t, "postgres://db/other", got)

	_, err = config.Database{URLFile: secret + ".gone"}.Connection()
	require.Error(t, err)
}

func TestDuration_RoundTrip(t *testing.T) {
	t.Parallel()
	text, err := config.Duration(90 * time.Second).MarshalText()
	require.NoError(t, err)
	var back config.Duration
	require.NoError(t, back.UnmarshalText(text))
	require.Equal(t, config.Duration(90*time.Second), back)
}
