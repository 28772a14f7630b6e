package domain_test

import (
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/quantity"
)

func usual() domain.Weighing {
	return domain.Weighing{Gross: 684_500, Tare: 42_000, TareKind: domain.TareStencilled, RawIndication: "  684.5 lb", Stable: true}
}

var expect = domain.Expect(lb, domain.Bands{}, 0)

// judge applies all rules of a weighing on the floor scale.
func judge(w domain.Weighing, a domain.Asset) error {
	_, err := domain.Place{Ticket: delivery(domain.Open), Scale: dock(), Asset: a}.Weigh(w, expect)
	return err
}

func TestPlaceOfAWeighing(t *testing.T) {
	t.Parallel()
	place := domain.Place{Ticket: delivery(domain.Closed), Scale: dock(), Asset: domain.Asset{Tag: "FC-00442"}}
	_, err := place.Weigh(usual(), expect)
	require.Equal(t, "STATE_FORBIDS", refusal(t, err).Reason)
	place.Ticket.State = domain.Open
	place.OpenBarrel = uuid.New()
	_, err = place.Weigh(usual(), expect)
	require.Equal(t, "barrels/"+place.OpenBarrel.String(), refusal(t, err).Metadata["barrel"])
	place.Asset.RetireTime, place.Asset.RetireReason = time.Now(), "rusted through"
	_, err = place.Weigh(usual(), expect)
	require.Equal(t, "RETIRED", refusal(t, err).Metadata["state"])
	place.Before = &domain.Check{Date: "2026-09-14"}
	_, err = place.Weigh(usual(), expect)
	require.Equal(t, "scale 2 failed its check on 2026-09-14: use another scale until it was put right and checked again", refusal(t, err).Message)
	place.Before, place.After = nil, &domain.Check{Date: "2026-09-14"}
	_, err = place.Weigh(usual(), expect)
	require.Equal(t, "SCALE_CHECK_MISSING", refusal(t, err).Reason)
	require.Equal(t, "scale 2 failed its check on 2026-09-14, after this barrel was weighed: weigh it again on another scale", refusal(t, err).Message)
	odd := usual()
	odd.Manual, odd.Reason = true, "cable broken"
	warnings, err := domain.Place{Ticket: delivery(domain.Open), Scale: dock()}.Weigh(odd, expect)
	require.NoError(t, err)
	require.Equal(t, []string{"the weight was typed by hand instead of taken from the scale"}, warnings)
}

func TestClockOfADeviceIsBelievedForADay(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, 9, 14, 12, 0, 0, 0, time.UTC)
	for _, said := range []time.Time{now, now.Add(-24 * time.Hour), now.Add(5 * time.Minute)} {
		got, err := domain.DeviceTime("weigh_time", said, now)
		require.NoError(t, err)
		require.Equal(t, said, got)
	}
	got, err := domain.DeviceTime("weigh_time", time.Time{}, now)
	require.NoError(t, err)
	require.Equal(t, now, got)
	for _, said := range []time.Time{now.Add(-24*time.Hour - time.Second), now.Add(5*time.Minute + time.Second)} {
		_, err := domain.DeviceTime("weigh_time", said, now)
		require.Equal(t, map[string]string{"field": "weigh_time", "low": "2026-09-13T12:00:00Z", "high": "2026-09-14T12:05:00Z"}, refusal(t, err).Metadata)
	}
}

func TestUsualBarrel(t *testing.T) {
	t.Parallel()
	require.NoError(t, judge(usual(), domain.Asset{}))
	require.Empty(t, expect.Warnings(usual(), domain.Asset{}))
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
			"1,050.5 lb is above 105 % of the capacity of scale 2 (1,000.0 lb): use a larger scale",
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
		d := refusal(t, judge(w, domain.Asset{}))
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
	require.NoError(t, judge(w, domain.Asset{}))
	require.Len(t, expect.Warnings(w, domain.Asset{}), 3)
}

func TestBandsHoldTheirEnds(t *testing.T) {
	t.Parallel()
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
		require.Len(t, expect.Warnings(w, domain.Asset{}), c.warnings, "%s − %s", c.gross, c.tare)
	}
}

// The ends in kilograms are those in pounds, rounded to a tenth; a division of 0.1 kg steps over each.
func TestKilogramBandsAreThoseOfPounds(t *testing.T) {
	t.Parallel()
	kilograms := domain.Expect(quantity.KG, domain.Bands{}, 0)
	require.Equal(t, "0.9", kilograms.TarePolicy().String())
	for _, c := range []struct {
		gross, tare quantity.Mass
		warnings    int
	}{
		{271_200, 17_200, 0},
		{271_100, 17_200, 1},
		{342_400, 24_900, 0},
		{342_500, 24_900, 1},
		{300_000, 17_100, 1},
		{300_000, 25_000, 1},
	} {
		require.Len(t, kilograms.Warnings(domain.Weighing{Gross: c.gross, Tare: c.tare}, domain.Asset{}), c.warnings, "%s − %s", c.gross, c.tare)
	}
}

func TestEachContainerHasItsWeights(t *testing.T) {
	t.Parallel()
	for container, c := range map[domain.Container]struct{ gross, tare, below, above quantity.Mass }{
		domain.SteelClosedHead: {690_000, 45_000, 37_900, 50_100},
		domain.SteelOpenHead:   {690_000, 47_000, 39_900, 55_100},
		domain.SteelLined:      {690_000, 45_000, 38_900, 58_100},
		domain.Plastic:         {660_000, 20_000, 17_900, 25_100},
		domain.Pail:            {62_000, 2_500, 1_900, 3_100},
		domain.Tote:            {3_200_000, 130_000, 119_900, 150_100},
	} {
		asset := domain.Asset{Container: container}
		w := domain.Weighing{Gross: c.gross, Tare: c.tare}
		require.Empty(t, expect.Warnings(w, asset), container)
		for _, tare := range []quantity.Mass{c.below, c.above} {
			w.Tare = tare
			require.Len(t, expect.Warnings(w, asset), 1, "%s %s", container, tare)
		}
	}
	narrow := domain.Expect(lb, domain.Bands{Net: domain.Band{Low: 600_000, High: 650_000}, Tare: domain.Band{Low: 40_000, High: 50_000}}, 0)
	require.Len(t, narrow.Warnings(domain.Weighing{Gross: 640_000, Tare: 41_000}, domain.Asset{}), 1, "a configured band")
}

func TestTareIsComparedWithWhatTheDrumWeighedEmpty(t *testing.T) {
	t.Parallel()
	asset := domain.Asset{Tag: "FC-00442", WeighedTare: 47_000}
	w := usual()
	w.Tare = 45_000
	require.Empty(t, expect.Warnings(w, asset), "2 lb are let pass")
	w.Tare = 44_500
	d := refusal(t, expect.Answered(w, asset))
	require.Equal(t, "drum FC-00442 weighed 47.0 lb when it was last empty, but the tare says 44.5 lb: check it, or say in reason why it is right", d.Message)
	require.Equal(t, map[string]string{"field": "tare", "low": "45.0", "high": "49.0"}, d.Metadata)
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
		if err := s.Weigh(w, lb); err != nil {
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
