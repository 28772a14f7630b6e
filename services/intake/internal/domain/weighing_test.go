package domain_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/quantity"
)

func usual() domain.Weighing {
	return domain.Weighing{Gross: 684_500, Tare: 42_000, TareKind: domain.TareStencilled, RawIndication: "  684.5 lb", Stable: true}
}

func TestUsualBarrel(t *testing.T) {
	t.Parallel()
	require.NoError(t, dock().Weigh(usual(), domain.SteelDrum(lb), lb))
	require.Empty(t, domain.SteelDrum(lb).Warnings(usual(), lb))
	require.Equal(t, "642.5", usual().Net().String())
}

func TestWeighingIsRefused(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		change      func(*domain.Weighing)
		reason      string
		field       string
		low, high   string
		wantMessage string
	}{
		"moving": {
			func(w *domain.Weighing) { w.Stable = false }, "UNSTABLE_READING", "stable", "", "",
			"the scale is still moving: wait until it stands still, then take the weight again",
		},
		"above 105 %": {
			func(w *domain.Weighing) { w.Gross = 1_050_500 }, "OUT_OF_RANGE", "gross", "10.0", "1050.0",
			"1050.5 lb is above 105 % of the capacity of scale 2 (1000.0 lb): use a larger scale",
		},
		"below the minimum load": {
			func(w *domain.Weighing) { w.Gross, w.Tare = 9_500, 5_000 }, "OUT_OF_RANGE", "gross", "10.0", "1050.0",
			"9.5 lb is below the minimum load of scale 2 (10.0 lb): use a finer scale",
		},
		"off the division": {
			func(w *domain.Weighing) { w.Gross = 684_700 }, "OUT_OF_RANGE", "gross", "684.5", "685.0",
			"684.7 lb cannot stand on scale 2, which shows steps of 0.5 lb: read the indicator again",
		},
		"weighed tare off the division": {
			func(w *domain.Weighing) { w.Tare, w.TareKind = 42_100, domain.TareWeighedEmpty }, "OUT_OF_RANGE", "tare", "42.0", "42.5",
			"42.1 lb cannot stand on scale 2, which shows steps of 0.5 lb: read the indicator again",
		},
		"no tare": {
			func(w *domain.Weighing) { w.Tare = 0 }, "OUT_OF_RANGE", "tare", "0.001", "684.5",
			"a tare of 0.0 lb cannot be: enter the weight of the empty drum",
		},
		"nothing left": {
			func(w *domain.Weighing) { w.Gross = 42_000 }, "OUT_OF_RANGE", "gross", "42.0", "",
			"gross 42.0 lb less tare 42.0 lb leaves 0.0 lb: check both weights",
		},
		"light": {
			func(w *domain.Weighing) { w.Gross = 454_000 }, "REASON_REQUIRED", "net", "560.0", "700.0",
			"a net weight of 412.0 lb is unusual for a 55-gallon steel drum (usually 560.0 to 700.0 lb): check it, or say in reason why it is right",
		},
		"heavy drum": {
			func(w *domain.Weighing) { w.Gross, w.Tare = 700_000, 55_500 }, "REASON_REQUIRED", "tare", "38.0", "55.0",
			"a tare of 55.5 lb is unusual for a 55-gallon steel drum (usually 38.0 to 55.0 lb): check it, or say in reason why it is right",
		},
		"typed": {
			func(w *domain.Weighing) { w.Manual, w.Stable = true, false }, "REASON_REQUIRED", "reason", "", "",
			"the weight was typed by hand instead of taken from the scale: check it, or say in reason why it is right",
		},
	} {
		w := usual()
		c.change(&w)
		d := refusal(t, dock().Weigh(w, domain.SteelDrum(lb), lb))
		require.Equal(t, c.reason, d.Reason, name)
		require.Equal(t, c.field, d.Metadata["field"], name)
		require.Equal(t, c.low, d.Metadata["low"], name)
		require.Equal(t, c.high, d.Metadata["high"], name)
		require.Equal(t, c.wantMessage, d.Message, name)
	}
}

func TestUnusualBarrelWithAReasonKeepsItsWarnings(t *testing.T) {
	t.Parallel()
	w := usual()
	w.Gross, w.Tare, w.Manual, w.Reason = 250_000, 37_500, true, "top-off barrel, indicator cable broken"
	require.NoError(t, dock().Weigh(w, domain.SteelDrum(lb), lb))
	require.Len(t, domain.SteelDrum(lb).Warnings(w, lb), 3)
}

func TestBandsHoldTheirEnds(t *testing.T) {
	t.Parallel()
	bands := domain.SteelDrum(lb)
	for _, c := range []struct {
		gross, tare quantity.Mass
		warnings    int
	}{
		{598_000, 38_000, 0},
		{755_000, 55_000, 0},
		{597_500, 38_000, 1},
		{755_500, 55_000, 1},
		{637_500, 37_500, 1},
		{655_500, 55_500, 1},
		{500_000, 60_000, 2},
	} {
		w := domain.Weighing{Gross: c.gross, Tare: c.tare, TareKind: domain.TareStencilled, Stable: true}
		require.Len(t, bands.Warnings(w, lb), c.warnings, "%s − %s", c.gross, c.tare)
	}
}

func TestKilogramBandsAreThoseOfPounds(t *testing.T) {
	t.Parallel()
	pounds, kilograms := domain.SteelDrum(lb), domain.SteelDrum(quantity.KG)
	for _, pair := range [][2]quantity.Mass{
		{pounds.Net.Low, kilograms.Net.Low},
		{pounds.Net.High, kilograms.Net.High},
		{pounds.Tare.Low, kilograms.Tare.Low},
		{pounds.Tare.High, kilograms.Tare.High},
	} {
		exact := quantity.ConvertMass(pair[0], lb, quantity.KG)
		require.InDelta(t, int64(exact), int64(pair[1]), 50, "a tenth of a kilogram at most is rounded away")
		require.Zero(t, pair[1]%100)
	}
	require.NoError(t, kilograms.Validate())
	require.Error(t, domain.Bands{}.Validate())
}

// Whatever is accepted is a multiple of the division between the limits, with a net above zero.
func TestAcceptedWeightsArePossible(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := dock()
		w := domain.Weighing{
			Gross: quantity.Mass(rapid.Int64Range(-10, 110_000).Draw(t, "gross") * 10), Stable: true, Reason: "drawn at random",
			Tare: quantity.Mass(rapid.Int64Range(-10, 70_000).Draw(t, "tare") * 10), TareKind: domain.TareWeighedEmpty,
		}
		if err := s.Weigh(w, domain.SteelDrum(lb), lb); err != nil {
			return
		}
		require.Positive(t, w.Net())
		for _, m := range []quantity.Mass{w.Gross, w.Tare} {
			require.Zero(t, m%s.Division)
			require.GreaterOrEqual(t, m, s.Least())
			require.LessOrEqual(t, m, s.Most())
		}
	})
}
