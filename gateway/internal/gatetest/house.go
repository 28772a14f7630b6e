package gatetest

import (
	"context"
	"slices"
	"strings"
	"sync"

	"google.golang.org/grpc"
	"google.golang.org/grpc/metadata"
	"google.golang.org/protobuf/proto"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
)

// House stands for the four services. What it answers is fixed; refusals can be put in its way.
type House struct {
	intakev1.UnimplementedIntakeServiceServer
	gradingv1.UnimplementedGradingServiceServer
	inventoryv1.UnimplementedInventoryServiceServer
	inventoryv1.UnimplementedWarehouseRecordsServiceServer
	inventoryv1.UnimplementedPackingServiceServer
	inventoryv1.UnimplementedSalesServiceServer
	inventoryv1.UnimplementedWriteOffServiceServer
	settlementv1.UnimplementedSettlementServiceServer
	settlementv1.UnimplementedPoolSalesServiceServer

	mu      sync.Mutex
	asked   []Asked
	refuse  map[string][]error
	reading []*gradingv1.Reading
	sampled bool
	shows   *intakev1.Indication
}

// Asked is one call as it arrived.
type Asked struct {
	Request  proto.Message
	Actor    access.Actor
	Metadata metadata.MD
}

// NewHouse returns a house nobody has asked anything.
func NewHouse() *House { return &House{refuse: map[string][]error{}} }

// Register registers all four services.
func (h *House) Register(r grpc.ServiceRegistrar) {
	intakev1.RegisterIntakeServiceServer(r, h)
	intakev1.RegisterIndicatorServiceServer(r, Indicator{house: h})
	intakev1.RegisterDockTermsServiceServer(r, DockTerms{house: h})
	gradingv1.RegisterGradingServiceServer(r, h)
	inventoryv1.RegisterInventoryServiceServer(r, h)
	inventoryv1.RegisterWarehouseRecordsServiceServer(r, h)
	inventoryv1.RegisterPackingServiceServer(r, h)
	inventoryv1.RegisterSalesServiceServer(r, h)
	inventoryv1.RegisterWriteOffServiceServer(r, h)
	settlementv1.RegisterSettlementServiceServer(r, h)
	settlementv1.RegisterMemberAccountServiceServer(r, MemberAccount{house: h})
	settlementv1.RegisterPoolSalesServiceServer(r, h)
}

// Show makes scale 1 show something else from now on.
func (h *House) Show(seen *intakev1.Indication) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.shows = seen
}

// Refuse makes the next call with a request of the type of like fail with err; several queue up, nil lets one through.
func (h *House) Refuse(like proto.Message, err ...error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	name := string(proto.MessageName(like))
	h.refuse[name] = append(h.refuse[name], err...)
}

// Asked returns the calls with a request of the type of like, in order; nil for all.
func (h *House) Asked(like proto.Message) []Asked {
	h.mu.Lock()
	defer h.mu.Unlock()
	if like == nil {
		return slices.Clone(h.asked)
	}
	return slices.DeleteFunc(slices.Clone(h.asked), func(a Asked) bool {
		return proto.MessageName(a.Request) != proto.MessageName(like)
	})
}

// note remembers a call and returns the refusal that waits for it.
func (h *House) note(ctx context.Context, request proto.Message) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	md, _ := metadata.FromIncomingContext(ctx)
	h.asked = append(h.asked, Asked{Request: proto.Clone(request), Actor: access.From(ctx), Metadata: md})
	name := string(proto.MessageName(request))
	if waiting := h.refuse[name]; len(waiting) > 0 {
		h.refuse[name] = waiting[1:]
		return waiting[0]
	}
	return nil
}

// find answers the one that has the name, unless it is another member's.
func find[T interface{ GetName() string }](ctx context.Context, all []T, name string, owner func(T) string) (T, error) {
	for _, one := range all {
		if one.GetName() == name && (owner == nil || access.SeesMember(ctx, owner(one))) {
			return one, nil
		}
	}
	var none T
	return none, apierr.NotFound(name)
}

func lastPart(name string) string { return name[strings.LastIndex(name, "/")+1:] }
