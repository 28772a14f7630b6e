package warehouse

import (
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/web/site"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

func TestPortion_IsPartOfTheBar(t *testing.T) {
	t.Parallel()
	lb := func(v string) *typev1.Mass { return &typev1.Mass{Value: v, Unit: "LB"} }
	require.Equal(t, int64(150), portion(lb("25.0"), lb("100.0")))
	require.Equal(t, int64(0), portion(lb("25.0"), lb("0.0")))
	require.Equal(t, int64(site.BarsWidth), portion(lb("200.0"), lb("100.0")))
	require.Equal(t, int64(0), portion(nil, lb("1")))
}
