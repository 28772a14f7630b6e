package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"barrelhead.example/deploy/scalesim"
	"barrelhead.example/services/kit/config"
)

func load(t *testing.T, text string) (*settings, error) {
	t.Helper()
	home := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(home, settingsFile), []byte(text), 0o600))
	return loadSettings(home)
}

func TestWhatTheHelpShowsIsASettingsFile(t *testing.T) {
	t.Parallel()
	s, err := load(t, settingsExample)
	require.NoError(t, err)
	require.Equal(t, scalesim.Pattern, s.Dock.Indicators["1"].Pattern, "the scale that is played is read")
	require.Equal(t, config.Duration(5*time.Minute), s.Dock.CaptureAge)
	require.Equal(t, 180, s.Dock.RetentionDays.A)
	require.Equal(t, "021000021", s.Office.Bank.RoutingNumber)
	require.Equal(t, "555-0142", s.Office.Contact.Telephone)
}

func TestFaultsOfTheOfficeAreNamed(t *testing.T) {
	t.Parallel()
	_, err := load(t, strings.Replace(settingsExample, "85.00", "-1.00", 1))
	require.ErrorContains(t, err, "office.referee_fee")
	_, err = load(t, strings.Replace(settingsExample, "office@", "office at ", 1))
	require.ErrorContains(t, err, "office.contact.email")
}

func TestFaultsOfTheDockAreNamed(t *testing.T) {
	t.Parallel()
	_, err := load(t, strings.NewReplacer("tcp://127.0.0.1:7301", "scale 1", "P<weight>", "P<mass>", `"5m"`, `"-5m"`, `"a": 180`, `"a": -1`).Replace(settingsExample))
	for _, path := range []string{"dock.indicators.1.address", "dock.indicators.1.pattern", "dock.capture_age", "dock.retention_days.a"} {
		require.ErrorContains(t, err, path)
	}
}

// A file made before there was a dock in it stays as it is.
func TestADockIsNotNeeded(t *testing.T) {
	t.Parallel()
	s, err := load(t, `{"cooperative": {"name": "Fallow Creek Honey Cooperative", "site": "FC", "unit": "LB", "currency": "USD", "time_zone": "America/Chicago"},
		"administrator": "admin"}`)
	require.NoError(t, err)
	text, err := json.Marshal(s)
	require.NoError(t, err)
	require.NotContains(t, string(text), "dock")
}
