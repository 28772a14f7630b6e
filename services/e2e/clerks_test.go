package e2e

import (
	"context"
	"fmt"
	"math/rand/v2"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/access"
)

const (
	manyClerks = 200
	rushHour   = time.Minute
	// patience bounds how long a call is repeated: a machine that is busy with other tests may need much of it.
	patience = 3 * time.Minute
)

// TestClerks: 200 clerks, each on a connection of its own to two replicas, work for a minute while replicas are killed,
// sessions of PostgreSQL are ended and PostgreSQL is made to recover. A call that was not answered is sent again under its
// request_id, as a dock does. Afterwards every number from 1 to the last is found exactly once, as closed, void or
// cancelled; every answer a clerk ever got is what is stored; and each barrel and each fact is there once.
func TestClerks(t *testing.T) {
	t.Parallel()
	d := startDocks(t)
	hall := &hall{t: t, dock: d}
	office := hall.clerk("office1", accessv1.Role_ROLE_OFFICE)
	hall.prepare(office)

	// The kills end with the hour; what the clerks are at by then they finish in peace.
	hall.ends = time.Now().Add(rushHour)
	killing, stop := context.WithDeadline(t.Context(), hall.ends)
	var killers, rush sync.WaitGroup
	killers.Go(func() { d.killProcesses(killing, t) })
	killers.Go(func() { d.killBackends(killing, t) })
	crew := make([]*weigher, manyClerks)
	for i := range crew {
		crew[i] = hall.clerk(fmt.Sprintf("dock%d", i+1), accessv1.Role_ROLE_DOCK)
		rush.Go(func() { crew[i].work(i, office) })
	}
	rush.Wait()
	stop()
	killers.Wait()
	require.False(t, t.Failed())
	require.GreaterOrEqual(t, d.processes.Load(), int64(3), "replicas were killed")
	require.GreaterOrEqual(t, d.crashes.Load(), int64(2), "PostgreSQL had to recover")
	require.Positive(t, d.backends.Load())
	require.Positive(t, hall.repeated.Load(), "the kills were felt")
	hall.verify(crew)
}

// hall is where the clerks work.
type hall struct {
	t    *testing.T
	dock *docks
	ends time.Time

	repeated atomic.Int64
}

// weigher is one person on one connection, and every answer it got.
type weigher struct {
	hall  *hall
	actor access.Actor
	conn  *grpc.ClientConn
	api   intakev1.IntakeServiceClient

	tickets []*intakev1.Ticket
	barrels []*intakev1.Barrel
}

func (h *hall) clerk(login string, role accessv1.Role) *weigher {
	h.t.Helper()
	c := &weigher{hall: h, actor: access.Actor{Login: "users/" + login, Roles: []accessv1.Role{role}}, conn: h.dock.dial(h.t, "gateway")}
	c.api = intakev1.NewIntakeServiceClient(c.conn)
	return c
}

// insist repeats a call until it is answered. Only a failure that says nothing of the request may be repeated.
func insist[Q, R any](c *weigher, call func(context.Context, Q, ...grpc.CallOption) (R, error), req Q) R {
	var none R
	given := time.Now().Add(patience)
	for time.Now().Before(given) && !c.hall.t.Failed() {
		answer, err := call(access.Outgoing(c.hall.t.Context(), c.actor), req)
		switch status.Code(err) {
		case codes.OK:
			return answer
		case codes.Unavailable, codes.DeadlineExceeded, codes.Aborted:
			c.hall.repeated.Add(1)
			pauseFor(c.hall.t.Context(), time.Duration(50+rand.IntN(200))*time.Millisecond)
		default:
			c.hall.t.Errorf("%s: %T: %v", c.actor.Login, req, err)
			return none
		}
	}
	c.hall.t.Errorf("%s: %T was not answered", c.actor.Login, req)
	return none
}

func lb(value string) *typev1.Mass { return &typev1.Mass{Value: value, Unit: "LB"} }

// prepare enrols a member and readies a scale.
func (h *hall) prepare(office *weigher) {
	insist(office, office.api.CreateMember, &intakev1.CreateMemberRequest{
		RequestId: uuid.NewString(), MemberNumber: "M-0001", DisplayName: "Hill apiary", AgreementVersion: "2026",
	})
	admin, dock := h.clerk("admin1", accessv1.Role_ROLE_ADMINISTRATOR), h.clerk("dock0", accessv1.Role_ROLE_DOCK)
	insist(admin, admin.api.CreateScale, &intakev1.CreateScaleRequest{RequestId: uuid.NewString(), ScaleId: "1", Scale: &intakev1.Scale{
		Description: "Floor scale", Division: lb("0.5"), Capacity: lb("1000"), AccuracyClass: intakev1.AccuracyClass_ACCURACY_CLASS_III,
	}})
	insist(dock, dock.api.RecordScaleCheck, &intakev1.RecordScaleCheckRequest{
		RequestId: uuid.NewString(), Scale: "scales/1", ZeroIndication: lb("0"),
		Loads: []*intakev1.CheckLoad{{WeightId: "TW-500-1", Known: lb("500"), Indication: lb("500")}},
	})
}

// think is how long a clerk takes between two steps: shorter than a person, and longer where everything is slower.
func (c *weigher) think() {
	most := 600
	if raceFlag != "" {
		most *= 4
	}
	pauseFor(c.hall.t.Context(), time.Duration(rand.IntN(most))*time.Millisecond)
}

// work receives one delivery after the other, and ends the one it is at when the hour is over.
func (c *weigher) work(number int, office *weigher) {
	for round := 0; (round == 0 || time.Now().Before(c.hall.ends)) && !c.hall.t.Failed(); round++ {
		t := insist(c, c.api.OpenTicket, &intakev1.OpenTicketRequest{
			RequestId: uuid.NewString(), Member: "members/M-0001", CropYear: int32(time.Now().Year()), HarvestDeclared: true,
		})
		weighed := 1 + (number+round)%2
		for line := range weighed {
			c.think()
			c.receive(t, fmt.Sprintf("FC-%d-%d-%d", number, round, line))
		}
		c.think()
		c.tickets = append(c.tickets, c.end(t, weighed, number+round, office))
	}
}

func (c *weigher) receive(t *intakev1.Ticket, drum string) {
	b := insist(c, c.api.WeighBarrel, &intakev1.WeighBarrelRequest{
		RequestId: uuid.NewString(), Ticket: t.GetName(), DrumTag: drum, Variety: "clover", Gross: lb(fmt.Sprintf("%d.5", 640+rand.IntN(60))),
		Tare: lb("43.0"), TareKind: intakev1.TareKind_TARE_KIND_STENCILLED, Scale: "scales/1", Stable: true,
	})
	c.barrels = append(c.barrels, insist(c, c.api.DrawSample, &intakev1.DrawSampleRequest{RequestId: uuid.NewString(), Barrel: b.GetName()}))
}

// end closes most tickets, cancels every fourth and has every fourth withdrawn after closing.
func (c *weigher) end(t *intakev1.Ticket, weighed, kind int, office *weigher) *intakev1.Ticket {
	if kind%4 == 0 {
		return insist(c, c.api.CancelTicket, &intakev1.CancelTicketRequest{RequestId: uuid.NewString(), Name: t.GetName(), Reason: "truck left"})
	}
	t = insist(c, c.api.CloseTicket, &intakev1.CloseTicketRequest{RequestId: uuid.NewString(), Name: t.GetName(), BarrelCount: int32(weighed)})
	if kind%4 != 1 {
		return t
	}
	insist(c, c.api.RequestTicketVoid, &intakev1.RequestTicketVoidRequest{RequestId: uuid.NewString(), Name: t.GetName(), Reason: "wrong delivery"})
	return insist(office, office.api.ApproveTicketVoid, &intakev1.ApproveTicketVoidRequest{RequestId: uuid.NewString(), Name: t.GetName()})
}

// verify compares what is stored with what was answered.
func (h *hall) verify(crew []*weigher) {
	auditor := h.clerk("auditor1", accessv1.Role_ROLE_AUDITOR)
	states, numbers, barrels := map[intakev1.TicketState]int64{}, map[string]bool{}, map[string]bool{}
	var reading sync.WaitGroup
	for _, c := range crew {
		for _, b := range c.barrels {
			barrels[b.GetName()] = true
		}
		for _, t := range c.tickets {
			states[t.GetState()]++
			numbers[t.GetNumber()] = true
		}
		reading.Go(func() {
			for _, t := range c.tickets {
				if stored := insist(c, c.api.GetTicket, &intakev1.GetTicketRequest{Name: t.GetName()}); !proto.Equal(t, stored) {
					h.t.Errorf("%s: answered\n%s\nstored\n%s", t.GetName(), t, stored)
				}
			}
		})
	}
	reading.Wait()
	report := insist(auditor, auditor.api.ReportTicketNumbers, &intakev1.ReportTicketNumbersRequest{Year: int32(time.Now().Year())})
	require.Empty(h.t, report.GetMissingNumbers())
	require.Equal(h.t, int64(len(numbers)), report.GetLastNumber(), "a number for each delivery and none more")
	found := map[intakev1.TicketState]int64{}
	for _, s := range report.GetStateCounts() {
		found[s.GetState()] = s.GetCount()
	}
	require.Equal(h.t, states, found)
	require.Len(h.t, states, 3, "closed, void and cancelled")

	today := time.Now()
	weighers := insist(auditor, auditor.api.ReportWeighers, &intakev1.ReportWeighersRequest{
		FromDate: today.AddDate(0, 0, -2).Format(time.DateOnly), ToDate: today.AddDate(0, 0, 1).Format(time.DateOnly),
	})
	weighed := int64(0)
	for _, line := range weighers.GetLines() {
		weighed += line.GetBarrels()
	}
	require.Equal(h.t, int64(len(barrels)), weighed)
	h.verifyFacts(map[string]int{
		"TicketOpened": len(numbers), "BarrelWeighed": len(barrels), "SampleDrawn": len(barrels),
		"TicketCancelled":     int(states[intakev1.TicketState_TICKET_STATE_CANCELLED]),
		"TicketClosed":        len(numbers) - int(states[intakev1.TicketState_TICKET_STATE_CANCELLED]),
		"TicketVoidRequested": int(states[intakev1.TicketState_TICKET_STATE_VOIDED]),
		"TicketVoided":        int(states[intakev1.TicketState_TICKET_STATE_VOIDED]),
		"MemberRegistered":    1, "ScaleChecked": 1,
	})
	h.t.Logf("%d tickets %v, %d barrels; %d processes, %d sessions and %d servers killed; %d calls sent again", len(numbers), states, len(barrels),
		h.dock.processes.Load(), h.dock.backends.Load(), h.dock.crashes.Load(), h.repeated.Load())
}

// verifyFacts reads the whole feed as a neighbour does: without a gap, and each kind once for each thing.
func (h *hall) verifyFacts(want map[string]int) {
	ctx, stop := context.WithTimeout(h.t.Context(), patience)
	defer stop()
	stream, err := feedv1.NewFeedServiceClient(h.dock.dial(h.t, "grading")).Watch(ctx, &feedv1.WatchRequest{MaxEvents: 1000}, grpc.WaitForReady(true))
	require.NoError(h.t, err)
	told, once, next := map[string]int{}, map[string]bool{}, int64(1)
	for {
		page, err := stream.Recv()
		require.NoError(h.t, err)
		for _, e := range page.GetEvents() {
			require.Equal(h.t, next, e.GetSequence())
			next++
			kind := string(e.GetPayload().MessageName().Name())
			require.False(h.t, once[kind+e.GetAggregate()], "%s of %s was told twice", kind, e.GetAggregate())
			told[kind], once[kind+e.GetAggregate()] = told[kind]+1, true
		}
		if page.GetThroughSequence() == page.GetHeadSequence() {
			break
		}
	}
	require.Equal(h.t, want, told)
}
