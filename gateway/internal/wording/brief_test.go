package wording_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/wording"
)

func TestBrief_WritesAnIdInFullWhereTwoBeginAlike(t *testing.T) {
	t.Parallel()
	const one, other, third = "5d7e3a10-0000-4000-8000-000000000011", "5d7e3a10-0000-4000-8000-000000000012", "9a11e700-0000-4000-8000-000000000001"
	brief := wording.Brief([]string{"stock/" + one, "stock/" + other, "stock/" + one, "stock/" + third, "charges/" + one, "losses/FILTER", ""})
	require.Equal(t, map[string]string{
		"stock/" + one: one, "stock/" + other: other, "stock/" + third: "9a11e700", "charges/" + one: "5d7e3a10", "losses/FILTER": "FILTER", "": "",
	}, brief, "a charge that begins like a barrel is no barrel")
}
