package domain_test

import (
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"barrelhead.example/services/settlement/internal/domain"
)

func TestGoodScheduleHasNoFault(t *testing.T) {
	t.Parallel()
	require.Empty(t, schedule(t).Validate())
}

func TestEveryFaultIsNamedAtOnce(t *testing.T) {
	t.Parallel()
	bad := &domain.Schedule{
		CropYear: 2026, Effective: "2025-12-31",
		Rows: []domain.PriceRow{
			{Variety: "Clover", ColorClass: "white", Grade: "D", Advance: -1},
			{ColorClass: "WHITE", Grade: "A", Advance: price(t, "1.15")},
			{ColorClass: "WHITE", Grade: "A", Advance: price(t, "1.16")},
		},
		Moisture: domain.MoistureRule{Base: percent(t, "11.9"), Step: -1},
		Charges: []domain.Charge{
			{Code: "hauling"},
			{Code: "LINER", Description: "Liner", Authority: "Terms", Basis: domain.BasisBarrel, Rate: 1},
			{Code: "LINER", Description: "Liner", Authority: "Terms", Basis: domain.BasisNet, Amount: 1},
		},
	}
	messages := map[string]string{}
	for _, f := range bad.Validate() {
		messages[f.Path] = f.Message
	}
	require.Equal(t, map[string]string{
		"effective_date":               "is 2025-12-31; for crop year 2026 it must be from 2026-01-01 to 2027-12-31",
		"rows[0].variety":              `is "Clover"; write it in lower case such as basswood, or leave it empty for every other source`,
		"rows[0].color_class":          `is "white"; write a class in capitals such as EXTRA_LIGHT_AMBER`,
		"rows[0].grade":                `is "D"; it must be one of A, B, C, SUBSTANDARD`,
		"rows[0].advance":              "is -0.000001; it must be from 0.00 to 1000.00",
		"rows[2]":                      "prices any other source, white, grade A a second time; rows[1] does already",
		"moisture_rule.base_percent":   "is 11.9; it must be from 12.0 to 25.0",
		"moisture_rule.step_per_tenth": "is -0.000001; it must be from 0.00 to 1000.00",
		"deductions[0].code":           `is "hauling"; write it in capitals and underscores such as HAULING`,
		"deductions[0].description":    "is missing; say what the member reads",
		"deductions[0].authority":      "is missing; name the paper that allows the charge",
		"deductions[0].basis":          "is missing; say net weight, payable weight or barrel",
		"deductions[1].amount":         "is 0.00; a charge by the barrel needs an amount above 0.00",
		"deductions[1].rate":           "is 0.000001; a charge by the barrel has an amount and no rate",
		"deductions[2].rate":           "is 0.00; a charge by weight needs a rate above 0.00 and at most 1000.00",
		"deductions[2].amount":         "is 0.01; a charge by weight has a rate and no amount",
		"deductions[2].code":           "is LINER a second time; deductions[1] has it already",
	}, messages)
	require.Contains(t, (&domain.Schedule{}).Validate()[0].Message, "must be from 2000 to 2100")
}

func TestInForceIsDecidedByTheDeliveryDate(t *testing.T) {
	t.Parallel()
	version := func(v int, effective domain.Date) *domain.Schedule {
		s := schedule(t)
		s.ID, s.Version, s.Effective = uuid.NewSHA1(uuid.Nil, []byte{byte(v)}), v, effective
		return s
	}
	first, second, corrected := version(1, "2026-07-01"), version(2, "2026-09-15"), version(3, "2026-09-01")
	draft, other := version(9, "2026-07-02"), version(8, "2026-07-01")
	draft.AdoptTime = draft.AdoptTime.AddDate(-3000, 0, 0)
	draft = &domain.Schedule{ID: draft.ID, CropYear: 2026, Version: 9, Effective: draft.Effective}
	other.CropYear = 2025
	all := []*domain.Schedule{draft, second, first, other, corrected}
	for date, want := range map[domain.Date]*domain.Schedule{
		"2026-06-30": nil, "2026-07-01": first, "2026-08-31": first, "2026-09-01": corrected, "2026-09-15": corrected, "2027-01-02": corrected,
	} {
		require.Equal(t, want, domain.InForce(all, 2026, date), "delivered %s", date)
	}
	require.Equal(t, second, domain.InForce(all[:4], 2026, "2026-09-15"))
	require.Nil(t, domain.InForce(all, 2027, "2027-09-01"))
}

func TestVarietyWithoutARowFallsBack(t *testing.T) {
	t.Parallel()
	s := schedule(t)
	table := domain.Compile(s)
	row := func(variety, color, grade string) string {
		i := table.Row(variety, color, grade)
		if i < 0 {
			return ""
		}
		return s.Rows[i].Advance.String()
	}
	require.Equal(t, "1.22", row("basswood", "WHITE", "A"))
	require.Equal(t, "1.15", row("clover", "WHITE", "A"))
	require.Equal(t, "1.10", row("basswood", "EXTRA_LIGHT_AMBER", "A"))
	require.Empty(t, row("basswood", "AMBER", "A"))
	require.Empty(t, row("clover", "WHITE", "B"))
}

func TestAdoption(t *testing.T) {
	t.Parallel()
	draft := *schedule(t)
	draft.Resolution, draft.Adopter, draft.AdoptTime = "", "", draft.DraftTime
	require.False(t, draft.Adopted())

	adopted, err := draft.Adopt("Board 2026-06-14 no. 3", "users/board1", noon, nil)
	require.NoError(t, err)
	require.True(t, adopted.Adopted())
	require.False(t, draft.Adopted(), "adoption makes a new record and does not touch the draft")

	_, err = adopted.Adopt("again", "users/board2", noon, nil)
	var state *domain.StateError
	require.ErrorAs(t, err, &state)
	require.Equal(t, "ADOPTED", state.Metadata()["state"])

	_, err = draft.Adopt("resolution", "users/office1", noon, nil)
	var same *domain.SamePersonError
	require.ErrorAs(t, err, &same)
	require.Equal(t, "users/office1", same.Metadata()["first"])

	twin := draft
	twin.ID[0]++
	_, err = twin.Adopt("resolution", "users/board1", noon, []*domain.Schedule{adopted})
	var overlap *domain.OverlapError
	require.ErrorAs(t, err, &overlap)
	require.Equal(t, adopted.Name(), overlap.Metadata()["schedule"])
	require.Equal(t, "SCHEDULE_OVERLAP", overlap.Reason())
}
