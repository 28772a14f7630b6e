package gatetest

import (
	"context"
	"time"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
)

// Names of the invented season that tests ask for.
const (
	RejectID   = "4e1ec700-0000-4000-8000-000000000001"
	BrokenCode = "T3FN4HQX6"
	PaperID    = "5d7e3a10-0000-4000-8000-000000000031"
	PaperTrip  = "8b0b6d0e-6f0f-4f6e-9d2c-3f1d6a1c0031"
)

// paperTicket is open, its one weight is from the paper book and its declaration is missing.
func paperTicket() *intakev1.Ticket {
	b := barrel(PaperTrip, Juniper, 31, "FC-04460", "clover", "684.0", "43.0", "641.0", "R4TXW8KD2")
	b.PaperNumber, b.Reason, b.RecordTime = "3-0417", "from the paper book", at(-40*time.Minute)
	return &intakev1.Ticket{
		Name: "tickets/" + PaperTrip, Number: "FC-2026-000733", State: intakev1.TicketState_TICKET_STATE_OPEN, Member: Juniper, MemberDisplayName: "Juniper Ridge Bees",
		CropYear: 2026, Weigher: "users/dock1", OpenTime: at(3 * time.Minute), DeliveryDate: "2026-09-14", Etag: "3", NetTotal: lb("641.0"), Barrels: []*intakev1.Barrel{b},
	}
}

func rejected() []*intakev1.RejectedBarrel {
	return []*intakev1.RejectedBarrel{
		{Name: "rejectedBarrels/" + RejectID, Ticket: "tickets/" + CloseTicketID, DrumTag: "JR-9", Reason: intakev1.RejectReason_REJECT_REASON_FERMENTING, Note: "foam under the lid, smells sour", PhotoSha256: "9f3c2a10b4d5e6f79f3c2a10b4d5e6f79f3c2a10b4d5e6f79f3c2a10b4d5e6f7", Rejecter: "users/dock1", RejectTime: at(169 * time.Hour)},
		{Name: "rejectedBarrels/4e1ec700-0000-4000-8000-000000000002", Ticket: "tickets/" + CloseTicketID, Reason: intakev1.RejectReason_REJECT_REASON_UNIDENTIFIED, Note: "no tag, driver does not know it", Rejecter: "users/dock1", RejectTime: at(169 * time.Hour), Fate: intakev1.RejectFate_REJECT_FATE_COLLECTED, ExitNote: "the hauler took it back", ExitRecorder: "users/dock1", ExitTime: at(168 * time.Hour)},
	}
}

// RejectBarrel and its neighbours answer for what a dock does beside weighing.
func (h *House) RejectBarrel(ctx context.Context, r *intakev1.RejectBarrelRequest) (*intakev1.RejectedBarrel, error) {
	return rejected()[0], h.note(ctx, r)
}

func (h *House) RecordRejectExit(ctx context.Context, r *intakev1.RecordRejectExitRequest) (*intakev1.RejectedBarrel, error) {
	return rejected()[1], h.note(ctx, r)
}

func (h *House) ListRejectedBarrels(ctx context.Context, r *intakev1.ListRejectedBarrelsRequest) (*intakev1.ListRejectedBarrelsResponse, error) {
	answer := &intakev1.ListRejectedBarrelsResponse{}
	if r.GetTicket() == "tickets/"+CloseTicketID {
		answer.RejectedBarrels = rejected()
	}
	return answer, h.note(ctx, r)
}

func (h *House) RecordContainerMove(ctx context.Context, r *intakev1.RecordContainerMoveRequest) (*intakev1.ContainerAccount, error) {
	return containerAccount(), h.note(ctx, r)
}

func containerAccount() *intakev1.ContainerAccount {
	return &intakev1.ContainerAccount{
		Name: Juniper + "/containerAccount", DepositTotal: usd("280.00"),
		Balances: []*intakev1.ContainerBalance{
			{Container: intakev1.Container_CONTAINER_STEEL_CLOSED_HEAD, GivenOut: 60, BackFull: 44, BackEmpty: 2, Lost: 1, Balance: 14, Deposit: usd("280.00")},
			{Container: intakev1.Container_CONTAINER_TOTE, GivenOut: 2, BackFull: 2, Deposit: usd("0.00")},
		},
		Moves: []*intakev1.ContainerMove{
			{Name: Juniper + "/containerMoves/9", Member: Juniper, Container: intakev1.Container_CONTAINER_STEEL_CLOSED_HEAD, Kind: intakev1.ContainerMoveKind_CONTAINER_MOVE_KIND_LOST, Count: 1, Note: "fell off the trailer", Recorder: "users/office1", MoveTime: at(time.Hour)},
			{Name: Juniper + "/containerMoves/8", Member: Juniper, Container: intakev1.Container_CONTAINER_STEEL_CLOSED_HEAD, Kind: intakev1.ContainerMoveKind_CONTAINER_MOVE_KIND_GIVEN_OUT, Count: 20, Recorder: "users/dock1", MoveTime: at(900 * time.Hour), Deposit: usd("400.00")},
		},
	}
}

func (h *House) GetContainerAccount(ctx context.Context, r *intakev1.GetContainerAccountRequest) (*intakev1.ContainerAccount, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	if r.GetMember() != Juniper && r.GetMember() != Sedge || !access.SeesMember(ctx, r.GetMember()) {
		return nil, apierr.NotFound(r.GetMember())
	}
	if r.GetMember() == Sedge {
		return &intakev1.ContainerAccount{Name: Sedge + "/containerAccount"}, nil
	}
	return containerAccount(), nil
}

func (h *House) ConfirmPaperWeight(ctx context.Context, r *intakev1.ConfirmPaperWeightRequest) (*intakev1.Barrel, error) {
	return paperTicket().GetBarrels()[0], h.note(ctx, r)
}

func custody(code string) *intakev1.SampleCustody {
	event := func(n int32, kind intakev1.CustodyKind, place, seal string, ago time.Duration) *intakev1.CustodyEvent {
		return &intakev1.CustodyEvent{Ordinal: n, Kind: kind, Place: place, Seal: seal, Actor: "users/dock1", EventTime: at(ago), RecordTime: at(ago)}
	}
	gap := event(3, intakev1.CustodyKind_CUSTODY_KIND_OPENED, "laboratory", "S-9001", 100*time.Hour)
	gap.Gap = "the seal reads S-9001 but was put on as S-1002"
	return &intakev1.SampleCustody{Sample: "samples/" + code, Portions: []*intakev1.PortionCustody{
		{Portion: intakev1.Portion_PORTION_A, Seal: "S-1001", Place: "laboratory", InTransit: true, LastKind: intakev1.CustodyKind_CUSTODY_KIND_MOVED, ExpireDate: "2027-09-14", Events: []*intakev1.CustodyEvent{
			event(1, intakev1.CustodyKind_CUSTODY_KIND_SEALED, "dock", "S-1001", 160*time.Hour), event(2, intakev1.CustodyKind_CUSTODY_KIND_MOVED, "laboratory", "S-1001", 150*time.Hour),
		}},
		{Portion: intakev1.Portion_PORTION_B, Place: "laboratory", LastKind: intakev1.CustodyKind_CUSTODY_KIND_OPENED, ExpireDate: "2027-09-14", Broken: true, BrokenReason: gap.GetGap(), Events: []*intakev1.CustodyEvent{
			event(1, intakev1.CustodyKind_CUSTODY_KIND_SEALED, "dock", "S-1002", 160*time.Hour), event(2, intakev1.CustodyKind_CUSTODY_KIND_STORED, "cold cabinet 2", "S-1002", 150*time.Hour), gap,
		}},
	}}
}

func (h *House) RecordCustody(ctx context.Context, r *intakev1.RecordCustodyRequest) (*intakev1.SampleCustody, error) {
	return custody(lastPart(r.GetSample())), h.note(ctx, r)
}

// GetSampleCustody knows the sample of Juniper's first barrel.
func (h *House) GetSampleCustody(ctx context.Context, r *intakev1.GetSampleCustodyRequest) (*intakev1.SampleCustody, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	if r.GetSample() != "samples/"+BrokenCode || !access.SeesMember(ctx, Juniper) {
		return nil, apierr.NotFound(r.GetSample())
	}
	return custody(BrokenCode), nil
}

func (h *House) ListPortionsDue(ctx context.Context, r *intakev1.ListPortionsDueRequest) (*intakev1.ListPortionsDueResponse, error) {
	return &intakev1.ListPortionsDueResponse{Portions: []*intakev1.PortionDue{
		{Sample: "samples/" + BrokenCode, Portion: intakev1.Portion_PORTION_C, Seal: "S-0907", Place: "cold cabinet 2", ExpireDate: "2026-09-10", LastKind: intakev1.CustodyKind_CUSTODY_KIND_STORED},
	}}, h.note(ctx, r)
}

func (h *House) DeclareHarvest(ctx context.Context, r *intakev1.DeclareHarvestRequest) (*intakev1.Ticket, error) {
	return paperTicket(), h.note(ctx, r)
}

func (h *House) ListTypedWeights(ctx context.Context, r *intakev1.ListTypedWeightsRequest) (*intakev1.ListTypedWeightsResponse, error) {
	return &intakev1.ListTypedWeightsResponse{Barrels: []*intakev1.Barrel{closedTicket().GetBarrels()[0], paperTicket().GetBarrels()[0]}}, h.note(ctx, r)
}
