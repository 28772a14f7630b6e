package domain_test

import (
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"barrelhead.example/services/intake/internal/domain"
)

func delivery(state domain.State) domain.Ticket {
	return domain.Ticket{
		ID: uuid.MustParse("3c2f6f9e-90d6-4ad4-9d3c-b45a3a70c0a1"), Number: domain.Number{Site: "FC", Year: 2026, Ordinal: 731},
		State: state, Member: "M-0007", Weigher: "users/dock1", BarrelCount: 2, NetTotal: 1_285_000,
		Barrels: []domain.Barrel{
			{DrumTag: "FC-00442", Weighing: usual(), Sample: "2C4D6F8HJ", Weigher: "users/dock1"},
			{DrumTag: "FC-00443", Weighing: usual(), Sample: "3C4D6F8HJ", Weigher: "users/dock2"},
		},
	}
}

func TestNumber(t *testing.T) {
	t.Parallel()
	require.Equal(t, "FC-2026-000731", delivery(domain.Open).Number.String())
	require.Equal(t, "FC-2026-1000000", domain.Number{Site: "FC", Year: 2026, Ordinal: 1_000_000}.String())
}

func TestClosing(t *testing.T) {
	t.Parallel()
	require.NoError(t, delivery(domain.Open).MayClose(2))
	d := refusal(t, delivery(domain.Open).MayClose(3))
	require.Equal(t, "STATE_FORBIDS", d.Reason)
	require.Equal(t, "3 barrels were counted with the driver, but 2 are on ticket FC-2026-000731: count again, then weigh what is "+
		"missing or cancel and start over", d.Message)
	unsampled := delivery(domain.Open)
	unsampled.Barrels[1].Sample = ""
	require.Equal(t, "1 of 2 barrels done, 1 without a sample (first: drum FC-00443): draw the samples, then close",
		refusal(t, unsampled.MayClose(2)).Message)
	empty := delivery(domain.Open)
	empty.Barrels = nil
	require.Equal(t, "STATE_FORBIDS", refusal(t, empty.MayClose(0)).Reason)
}

func TestOnlyOpenTicketsChange(t *testing.T) {
	t.Parallel()
	require.NoError(t, delivery(domain.Open).MayChange())
	for _, state := range []domain.State{domain.Closed, domain.Voided, domain.Superseded, domain.Cancelled} {
		ticket := delivery(state)
		for name, err := range map[string]error{
			"change": ticket.MayChange(), "close": ticket.MayClose(2), "sample": ticket.MayDrawSample(domain.Barrel{}),
		} {
			d := refusal(t, err)
			require.Equal(t, "STATE_FORBIDS", d.Reason, name)
			require.Equal(t, string(state), d.Metadata["state"], name)
			require.Equal(t, ticket.Name(), d.Metadata["resource"], name)
		}
	}
	require.Equal(t, "SAMPLED", refusal(t, delivery(domain.Open).MayDrawSample(delivery(domain.Open).Barrels[0])).Metadata["state"])
}

func TestVoidIsForClosedTickets(t *testing.T) {
	t.Parallel()
	ask := func(state domain.State, member string) error {
		_, err := delivery(state).MayRequestVoid(domain.Void{ReissueMember: member})
		return err
	}
	require.NoError(t, ask(domain.Closed, ""))
	require.NoError(t, ask(domain.Closed, "M-0008"))
	require.Equal(t, "FIELD_INVALID", refusal(t, ask(domain.Closed, "M-0007")).Reason)
	for _, state := range []domain.State{domain.Open, domain.Voided, domain.Superseded, domain.Cancelled} {
		require.Equal(t, "STATE_FORBIDS", refusal(t, ask(state, "")).Reason)
		require.Equal(t, "STATE_FORBIDS", refusal(t, delivery(state).MayApproveVoid("users/office1")).Reason)
	}
}

func TestVoidNeedsASecondPerson(t *testing.T) {
	t.Parallel()
	ticket := delivery(domain.Closed)
	require.Equal(t, "STATE_FORBIDS", refusal(t, ticket.MayApproveVoid("users/office1")).Reason)
	ticket.Void = &domain.Void{Requester: "users/office2", Reason: "belongs to a brother", ReissueMember: "M-0008"}
	require.NoError(t, ticket.MayApproveVoid("users/office1"))
	for _, login := range []string{"users/office2", "users/dock1", "users/dock2"} {
		d := refusal(t, ticket.MayApproveVoid(login))
		require.Equal(t, "SAME_PERSON", d.Reason)
		require.Equal(t, login, d.Metadata["first"])
	}
	require.Equal(t, domain.Superseded, ticket.Void.Outcome())
	require.Equal(t, domain.Voided, domain.Void{}.Outcome())
}

func TestOwnerDoesNotLearnOfThirdParties(t *testing.T) {
	t.Parallel()
	ticket := delivery(domain.Superseded)
	ticket.Void = &domain.Void{Requester: "users/office2", Reason: "belongs to M-0008", ReissueMember: "M-0008"}
	seen := ticket.AsSeenBy("M-0007")
	require.Empty(t, seen.Void.ReissueMember)
	require.Empty(t, seen.Void.Reason)
	for _, b := range seen.Barrels {
		require.Empty(t, b.Sample)
	}
	require.Equal(t, "M-0008", ticket.Void.ReissueMember, "the ticket itself is untouched")
	require.Equal(t, "2C4D6F8HJ", ticket.Barrels[0].Sample)
	require.NotEmpty(t, delivery(domain.Closed).AsSeenBy("M-0007").Barrels[0].Sample)
}

func TestTotalIsThatOfTheLines(t *testing.T) {
	t.Parallel()
	require.NoError(t, delivery(domain.Closed).Check())
	wrong := delivery(domain.Closed)
	wrong.NetTotal++
	require.ErrorContains(t, wrong.Check(), "its lines say 2 of 1285.0")
}

func TestCropYear(t *testing.T) {
	t.Parallel()
	require.NoError(t, domain.CropYear(2026, 2026))
	require.NoError(t, domain.CropYear(2021, 2026))
	for _, year := range []int{2020, 2027} {
		d := refusal(t, domain.CropYear(year, 2026))
		require.Equal(t, "OUT_OF_RANGE", d.Reason)
		require.Equal(t, map[string]string{"field": "crop_year", "low": "2021", "high": "2026"}, d.Metadata)
	}
}

func TestDrum(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 9, 14, 11, 0, 0, 0, time.UTC)
	free := domain.Drum{Tag: "FC-00442"}
	require.Equal(t, "FREE", refusal(t, free.MayRelease()).Metadata["state"])
	require.Zero(t, free.LastTare())
	full := free
	full.Fill = &domain.Fill{Ticket: delivery(domain.Open), Tare: 42_000, TareKind: domain.TareStencilled, WeighTime: at}
	require.Equal(t, "BEING_RECEIVED", refusal(t, full.MayRelease()).Metadata["state"])
	full.Fill.Ticket.State = domain.Closed
	require.NoError(t, full.MayRelease())
	require.Equal(t, "42.0", full.LastTare().Weight.String())
	full.Tares = []domain.Tare{{Weight: 47_000, Weighed: true, Time: at.AddDate(-1, 0, 0)}}
	require.Equal(t, "47.0", full.LastTare().Weight.String(), "a weighed tare is known better than a painted one")
	full.Fill.TareKind = domain.TareWeighedEmpty
	require.Equal(t, "42.0", full.LastTare().Weight.String())
	require.NoError(t, domain.EmptyWeight(1, lb))
	require.Equal(t, "OUT_OF_RANGE", refusal(t, domain.EmptyWeight(0, lb)).Reason)
}

func TestRefusalsOfIdentity(t *testing.T) {
	t.Parallel()
	require.Equal(t, "NOT_FOUND", refusal(t, domain.NotFound("drums/X-1")).Reason)
	require.Equal(t, "ALREADY_EXISTS", refusal(t, domain.AlreadyExists("members/M-0001", "number %s was used", "M-0001")).Reason)
	require.Equal(t, "TRANSACTION_CONFLICT", refusal(t, domain.Busy("tickets/1")).Reason)
	d := refusal(t, domain.DrumInUse("FC-00442", "barrels/1"))
	require.Equal(t, "DRUM_IN_USE", d.Reason)
	require.Equal(t, "barrels/1", d.Metadata["barrel"])
}
