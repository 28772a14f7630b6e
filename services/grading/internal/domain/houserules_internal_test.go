package domain

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestHouseRulesThatAreWrongAreRefused(t *testing.T) {
	t.Parallel()
	text, err := houseFiles.ReadFile("house/laboratory-2026.json")
	require.NoError(t, err)
	_, err = parseHouseRules(text)
	require.NoError(t, err)
	for fault, change := range map[string][2]string{
		"unknown field":    {`"precision"`, `"precisoin"`},
		"unknown factor":   {`{"MOISTURE": "0.1"`, `{"WATER": "0.1"`},
		"MOISTURE: ":       {`{"MOISTURE": "0.1"`, `{"MOISTURE": "a little"`},
		"appeal_days is 0": {`"appeal_days": 30`, `"appeal_days": 0`},
		"control_hours 0":  {`"control_hours": 4`, `"control_hours": 0`},
	} {
		changed := strings.Replace(string(text), change[0], change[1], 1)
		require.NotEqual(t, string(text), changed)
		_, err := parseHouseRules([]byte(changed))
		require.ErrorContains(t, err, fault)
	}
}
