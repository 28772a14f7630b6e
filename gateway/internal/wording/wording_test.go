package wording_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	"barrelhead.example/gateway/internal/wording"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	_ "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	_ "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

func TestAmounts_AsPeopleReadThem(t *testing.T) {
	t.Parallel()
	for _, style := range []struct {
		wording.Style
		gap string
	}{{wording.Screen, "\u00a0"}, {wording.Paper, " "}} {
		usd := func(amount string) string { return style.Money(&typev1.Money{Amount: amount, CurrencyCode: "USD"}) }
		require.Equal(t, "$1,521.84", usd("1521.84"))
		require.Equal(t, "−$704.00", usd("-704.00"))
		require.Equal(t, "$0.05", usd("0.05"))
		require.Equal(t, "$12,345,678.90", usd("12345678.90"))
		require.Equal(t, "SEK"+style.gap+"100.00", style.Money(&typev1.Money{Amount: "100.00", CurrencyCode: "SEK"}))
		require.Equal(t, "–", style.Money(nil))
		require.Equal(t, "15,391.5"+style.gap+"lb", style.Mass(&typev1.Mass{Value: "15391.5", Unit: "LB"}))
		require.Equal(t, "−9.0"+style.gap+"kg", style.Mass(&typev1.Mass{Value: "-9.0", Unit: "KG"}))
		require.Equal(t, "–", style.Mass(nil))
		require.Equal(t, "$1.89333 per"+style.gap+"lb", style.Price(&typev1.Price{Amount: "1.89333", CurrencyCode: "USD", PerUnit: "LB"}))
		require.Equal(t, "−$0.005 per"+style.gap+"lb", style.Price(&typev1.Price{Amount: "-0.005", CurrencyCode: "USD", PerUnit: "LB"}))
	}
	require.Equal(t, "999", wording.Grouped("999"))
	require.Equal(t, "−1,000", wording.Grouped("-1000"))
}

// Every factor has a unit: no value stands alone.
func TestMeasured_HasItsUnit(t *testing.T) {
	t.Parallel()
	require.Equal(t, "17.4 %", wording.Paper.Measured(gradingv1.Factor_FACTOR_MOISTURE, "17.4"))
	require.Equal(t, "1\u00a0point", wording.Screen.Measured(gradingv1.Factor_FACTOR_CLARITY, "1"))
	require.Empty(t, wording.Screen.Measured(gradingv1.Factor_FACTOR_COLOR, ""))
	for number := range gradingv1.Factor_name {
		if factor := gradingv1.Factor(number); factor != gradingv1.Factor_FACTOR_UNSPECIFIED {
			require.NotEqual(t, "2", wording.Paper.Measured(factor, "2"), factor)
		}
	}
}

func TestWords_OfTheWire(t *testing.T) {
	t.Parallel()
	require.Equal(t, "extra light amber", wording.Words("EXTRA_LIGHT_AMBER"))
	require.Equal(t, "closed", wording.Words(intakev1.TicketState_TICKET_STATE_CLOSED))
	require.Equal(t, "colour", wording.Words(gradingv1.Factor_FACTOR_COLOR))
	require.Equal(t, "14 Sep 2026", wording.Day("2026-09-14"))
	require.Equal(t, "someday", wording.Day("someday"))
	require.Equal(t, "September 2026", wording.Month("2026-09"))
	require.Equal(t, "2026-9", wording.Month("2026-9"))
	require.Equal(t, "1 barrel", wording.Plural(1, "barrel", "barrels"))
	require.Equal(t, "1,200 barrels", wording.Plural(1200, "barrel", "barrels"))
	require.Equal(t, "M-0012", wording.Last("members/M-0012"))
}

// No person reads the type of an enum before its value, whichever of our enums it is.
func TestWords_OfEveryEnum(t *testing.T) {
	t.Parallel()
	seen := 0
	protoregistry.GlobalTypes.RangeEnums(func(kind protoreflect.EnumType) bool {
		if kind.Descriptor().ParentFile().Package().Parent().Parent() != "barrelhead" {
			return true
		}
		unspecified := kind.New(0)
		require.Equal(t, "unspecified", wording.Words(unspecified), kind.Descriptor().FullName())
		seen++
		return true
	})
	require.Greater(t, seen, 30)
}
