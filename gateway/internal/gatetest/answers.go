package gatetest

import (
	"context"
	"slices"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
)

func (h *House) ListMembers(ctx context.Context, r *intakev1.ListMembersRequest) (*intakev1.ListMembersResponse, error) {
	return &intakev1.ListMembersResponse{Members: members()}, h.note(ctx, r)
}

func (h *House) GetMember(ctx context.Context, r *intakev1.GetMemberRequest) (*intakev1.Member, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	return find(ctx, members(), r.GetName(), (*intakev1.Member).GetName)
}

func (h *House) CreateMember(ctx context.Context, r *intakev1.CreateMemberRequest) (*intakev1.Member, error) {
	return &intakev1.Member{Name: "members/" + r.GetMemberNumber(), DisplayName: r.GetDisplayName()}, h.note(ctx, r)
}

func (h *House) ListScales(ctx context.Context, r *intakev1.ListScalesRequest) (*intakev1.ListScalesResponse, error) {
	return &intakev1.ListScalesResponse{Scales: scales()}, h.note(ctx, r)
}

func (h *House) CreateScale(ctx context.Context, r *intakev1.CreateScaleRequest) (*intakev1.Scale, error) {
	return scales()[0], h.note(ctx, r)
}

func (h *House) RecordScaleCheck(ctx context.Context, r *intakev1.RecordScaleCheckRequest) (*intakev1.ScaleCheck, error) {
	return scales()[0].GetLastCheck(), h.note(ctx, r)
}

func (h *House) OpenTicket(ctx context.Context, r *intakev1.OpenTicketRequest) (*intakev1.Ticket, error) {
	return openTicket(false), h.note(ctx, r)
}

func (h *House) ListTickets(ctx context.Context, r *intakev1.ListTicketsRequest) (*intakev1.ListTicketsResponse, error) {
	answer := &intakev1.ListTicketsResponse{}
	for _, t := range tickets(h.drawn()) {
		wanted := r.GetState() == intakev1.TicketState_TICKET_STATE_UNSPECIFIED || r.GetState() == t.GetState()
		if wanted && access.SeesMember(ctx, t.GetMember()) && (r.GetMember() == "" || r.GetMember() == t.GetMember()) {
			t.Barrels = nil
			answer.Tickets = append(answer.Tickets, t)
		}
	}
	return answer, h.note(ctx, r)
}

func (h *House) GetTicket(ctx context.Context, r *intakev1.GetTicketRequest) (*intakev1.Ticket, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	return find(ctx, tickets(h.drawn()), r.GetName(), (*intakev1.Ticket).GetMember)
}

func (h *House) WeighBarrel(ctx context.Context, r *intakev1.WeighBarrelRequest) (*intakev1.Barrel, error) {
	b := openTicket(false).GetBarrels()[2]
	return b, h.note(ctx, r)
}

func (h *House) DrawSample(ctx context.Context, r *intakev1.DrawSampleRequest) (*intakev1.Barrel, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	h.mu.Lock()
	h.sampled = true
	h.mu.Unlock()
	return openTicket(true).GetBarrels()[2], nil
}

func (h *House) drawn() bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.sampled
}

func (h *House) GetBarrel(ctx context.Context, r *intakev1.GetBarrelRequest) (*intakev1.Barrel, error) {
	var barrels []*intakev1.Barrel
	for _, t := range tickets(h.drawn()) {
		barrels = append(barrels, t.GetBarrels()...)
	}
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	return find(ctx, barrels, r.GetName(), (*intakev1.Barrel).GetMember)
}

func (h *House) GetDrum(ctx context.Context, r *intakev1.GetDrumRequest) (*intakev1.Drum, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	for _, item := range stock() {
		if "drums/"+item.GetDrumTag() == r.GetName() {
			return &intakev1.Drum{Name: r.GetName(), OpenBarrel: item.GetBarrel()}, nil
		}
	}
	return find(ctx, drums(), r.GetName(), nil)
}

func (h *House) CloseTicket(ctx context.Context, r *intakev1.CloseTicketRequest) (*intakev1.Ticket, error) {
	return closedTicket(), h.note(ctx, r)
}

func (h *House) CancelTicket(ctx context.Context, r *intakev1.CancelTicketRequest) (*intakev1.Ticket, error) {
	return openTicket(false), h.note(ctx, r)
}

func (h *House) RequestTicketVoid(ctx context.Context, r *intakev1.RequestTicketVoidRequest) (*intakev1.Ticket, error) {
	return closedTicket(), h.note(ctx, r)
}

func (h *House) ApproveTicketVoid(ctx context.Context, r *intakev1.ApproveTicketVoidRequest) (*intakev1.Ticket, error) {
	return closedTicket(), h.note(ctx, r)
}

func (h *House) ListSamples(ctx context.Context, r *gradingv1.ListSamplesRequest) (*gradingv1.ListSamplesResponse, error) {
	answer := &gradingv1.ListSamplesResponse{}
	for _, s := range samples() {
		if r.GetState() == s.GetState() || r.GetState() == gradingv1.SampleState_SAMPLE_STATE_UNSPECIFIED {
			answer.Samples = append(answer.Samples, s)
		}
	}
	return answer, h.note(ctx, r)
}

func (h *House) GetSample(ctx context.Context, r *gradingv1.GetSampleRequest) (*gradingv1.Sample, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	s, err := find(ctx, samples(), r.GetName(), nil)
	if err != nil {
		return nil, err
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	s.Readings = append(s.Readings, h.reading...)
	return s, nil
}

func (h *House) RecordReading(ctx context.Context, r *gradingv1.RecordReadingRequest) (*gradingv1.Reading, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	made := proto.CloneOf(moistureReading())
	h.mu.Lock()
	defer h.mu.Unlock()
	h.reading = append(h.reading, made)
	return made, nil
}

func (h *House) IssueCertificate(ctx context.Context, r *gradingv1.IssueCertificateRequest) (*gradingv1.Certificate, error) {
	return certificate(), h.note(ctx, r)
}

func (h *House) GetCertificate(ctx context.Context, r *gradingv1.GetCertificateRequest) (*gradingv1.Certificate, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	return find(ctx, []*gradingv1.Certificate{certificate()}, r.GetName(), nil)
}

func (h *House) ListCertificates(ctx context.Context, r *gradingv1.ListCertificatesRequest) (*gradingv1.ListCertificatesResponse, error) {
	return &gradingv1.ListCertificatesResponse{Certificates: []*gradingv1.Certificate{certificate()}}, h.note(ctx, r)
}

func (h *House) ListStandards(ctx context.Context, r *gradingv1.ListStandardsRequest) (*gradingv1.ListStandardsResponse, error) {
	return &gradingv1.ListStandardsResponse{Standards: standards()}, h.note(ctx, r)
}

func (h *House) SummarizeStock(ctx context.Context, r *inventoryv1.SummarizeStockRequest) (*inventoryv1.SummarizeStockResponse, error) {
	return &inventoryv1.SummarizeStockResponse{Totals: stockTotals()}, h.note(ctx, r)
}

func (h *House) ListStock(ctx context.Context, r *inventoryv1.ListStockRequest) (*inventoryv1.ListStockResponse, error) {
	answer := &inventoryv1.ListStockResponse{}
	asked := append(r.GetStockItems(), r.GetDrumTags()...)
	for _, item := range append(stock(), emptied()) {
		if slices.Contains(asked, item.GetName()) || slices.Contains(asked, item.GetDrumTag()) || len(asked) == 0 && item.GetState() == inventoryv1.StockState_STOCK_STATE_ON_HAND {
			answer.StockItems = append(answer.StockItems, item)
		}
	}
	return answer, h.note(ctx, r)
}

func (h *House) GetStockItem(ctx context.Context, r *inventoryv1.GetStockItemRequest) (*inventoryv1.StockItem, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	return find(ctx, append(stock(), emptied()), r.GetName(), nil)
}

func (h *House) MoveBarrel(ctx context.Context, r *inventoryv1.MoveBarrelRequest) (*inventoryv1.StockItem, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	item, err := find(ctx, stock(), r.GetName(), nil)
	if err == nil {
		item.Location = r.GetLocation()
	}
	return item, err
}

func (h *House) PlaceHold(ctx context.Context, r *inventoryv1.PlaceHoldRequest) (*inventoryv1.Hold, error) {
	return hold(), h.note(ctx, r)
}

func (h *House) ReleaseHold(ctx context.Context, r *inventoryv1.ReleaseHoldRequest) (*inventoryv1.Hold, error) {
	return hold(), h.note(ctx, r)
}

func (h *House) ListHolds(ctx context.Context, r *inventoryv1.ListHoldsRequest) (*inventoryv1.ListHoldsResponse, error) {
	return &inventoryv1.ListHoldsResponse{Holds: []*inventoryv1.Hold{hold()}}, h.note(ctx, r)
}

func (h *House) ListMovements(ctx context.Context, r *inventoryv1.ListMovementsRequest) (*inventoryv1.ListMovementsResponse, error) {
	return &inventoryv1.ListMovementsResponse{Movements: movements()}, h.note(ctx, r)
}

func (h *House) CreateSchedule(ctx context.Context, r *settlementv1.CreateScheduleRequest) (*settlementv1.Schedule, error) {
	return schedules()[0], h.note(ctx, r)
}

func (h *House) AdoptSchedule(ctx context.Context, r *settlementv1.AdoptScheduleRequest) (*settlementv1.Schedule, error) {
	return schedules()[0], h.note(ctx, r)
}

func (h *House) GetSchedule(ctx context.Context, r *settlementv1.GetScheduleRequest) (*settlementv1.Schedule, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	return find(ctx, schedules(), r.GetName(), nil)
}

func (h *House) ListSchedules(ctx context.Context, r *settlementv1.ListSchedulesRequest) (*settlementv1.ListSchedulesResponse, error) {
	return &settlementv1.ListSchedulesResponse{Schedules: schedules()}, h.note(ctx, r)
}

func (h *House) GetPayout(ctx context.Context, r *settlementv1.GetPayoutRequest) (*settlementv1.Payout, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	return find(ctx, payouts(), r.GetName(), (*settlementv1.Payout).GetMember)
}

func (h *House) ListPayouts(ctx context.Context, r *settlementv1.ListPayoutsRequest) (*settlementv1.ListPayoutsResponse, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	if !access.SeesMember(ctx, r.GetMember()) {
		return nil, apierr.NotFound(r.GetMember())
	}
	answer := &settlementv1.ListPayoutsResponse{}
	for _, p := range payouts() {
		if p.GetMember() == r.GetMember() {
			answer.Payouts = append(answer.Payouts, p)
		}
	}
	return answer, nil
}

func (h *House) GetMemberTotal(ctx context.Context, r *settlementv1.GetMemberTotalRequest) (*settlementv1.MemberTotal, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	for _, t := range memberTotals() {
		if t.GetMember() == r.GetMember() && access.SeesMember(ctx, r.GetMember()) {
			return t, nil
		}
	}
	return nil, apierr.NotFound(r.GetMember())
}

func (h *House) ListMemberTotals(ctx context.Context, r *settlementv1.ListMemberTotalsRequest) (*settlementv1.ListMemberTotalsResponse, error) {
	return &settlementv1.ListMemberTotalsResponse{MemberTotals: memberTotals(), GrandTotal: grandTotal()}, h.note(ctx, r)
}

func (h *House) ListUnpriced(ctx context.Context, r *settlementv1.ListUnpricedRequest) (*settlementv1.ListUnpricedResponse, error) {
	answer := &settlementv1.ListUnpricedResponse{}
	for _, u := range unpriced() {
		if access.SeesMember(ctx, u.GetMember()) && (r.GetMember() == "" || r.GetMember() == u.GetMember()) {
			answer.Unpriced = append(answer.Unpriced, u)
		}
	}
	return answer, h.note(ctx, r)
}

// Indicator stands for the indicators of the scales: scale 1 has one, scale 2 has none.
type Indicator struct {
	intakev1.UnimplementedIndicatorServiceServer
	house *House
}

func (i Indicator) shown(ctx context.Context, request proto.Message, scale string) (*intakev1.Indication, error) {
	if err := i.house.note(ctx, request); err != nil {
		return nil, err
	}
	if scale != "scales/1" {
		return nil, apierr.State(scale, "NO_INDICATOR", "scale 2 has no indicator; type the weight")
	}
	i.house.mu.Lock()
	defer i.house.mu.Unlock()
	if i.house.shows != nil {
		return proto.CloneOf(i.house.shows), nil
	}
	return &intakev1.Indication{
		Scale: scale, State: intakev1.IndicationState_INDICATION_STATE_STABLE, Message: "scale 1 stands still", Weight: lb("682.0"),
		RawIndication: "ST,GS,   682.0 lb", ReceiveTime: at(0), StableSinceTime: at(0),
	}, nil
}

// GetIndication answers what the scale shows.
func (i Indicator) GetIndication(ctx context.Context, r *intakev1.GetIndicationRequest) (*intakev1.Indication, error) {
	return i.shown(ctx, r, r.GetScale())
}

// CaptureIndication answers what the scale shows, under a name of its own for each request.
func (i Indicator) CaptureIndication(ctx context.Context, r *intakev1.CaptureIndicationRequest) (*intakev1.Indication, error) {
	shown, err := i.shown(ctx, r, r.GetScale())
	if err == nil {
		shown.Name = r.GetScale() + "/indications/" + r.GetRequestId()
	}
	return shown, err
}

// WatchIndication shows one weight and then nothing new until the caller leaves.
func (i Indicator) WatchIndication(r *intakev1.WatchIndicationRequest, stream grpc.ServerStreamingServer[intakev1.Indication]) error {
	shown, err := i.shown(stream.Context(), r, r.GetScale())
	if err != nil {
		return err
	}
	if err := stream.Send(shown); err != nil {
		return err
	}
	<-stream.Context().Done()
	return nil
}
