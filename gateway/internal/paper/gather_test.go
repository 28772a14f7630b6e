package paper

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"

	"barrelhead.example/gateway/internal/rest"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/rpctest"
)

// cabinet answers for the services from what a test puts into it, and shows members only their own.
type cabinet struct {
	intakev1.UnimplementedIntakeServiceServer
	gradingv1.UnimplementedGradingServiceServer
	settlementv1.UnimplementedSettlementServiceServer

	tickets      []*intakev1.Ticket
	certificates []*gradingv1.Certificate
	// pay is given out one payout a page.
	pay []*settlementv1.Payout
}

func (c *cabinet) GetTicket(ctx context.Context, r *intakev1.GetTicketRequest) (*intakev1.Ticket, error) {
	for _, t := range c.tickets {
		if t.GetName() == r.GetName() && access.SeesMember(ctx, t.GetMember()) {
			return t, nil
		}
	}
	return nil, apierr.NotFound(r.GetName())
}

// GetBarrel answers with the newest ticket of a barrel.
func (c *cabinet) GetBarrel(_ context.Context, r *intakev1.GetBarrelRequest) (*intakev1.Barrel, error) {
	for _, t := range slices.Backward(c.tickets) {
		for _, b := range t.GetBarrels() {
			if b.GetName() == r.GetName() {
				b.Ticket = t.GetName()
				return b, nil
			}
		}
	}
	return nil, apierr.NotFound(r.GetName())
}

func (c *cabinet) ListScales(context.Context, *intakev1.ListScalesRequest) (*intakev1.ListScalesResponse, error) {
	return &intakev1.ListScalesResponse{Scales: testScales()}, nil
}

func (c *cabinet) GetMember(context.Context, *intakev1.GetMemberRequest) (*intakev1.Member, error) {
	return testMember(), nil
}

func (c *cabinet) GetCertificate(_ context.Context, r *gradingv1.GetCertificateRequest) (*gradingv1.Certificate, error) {
	for _, one := range c.certificates {
		if one.GetName() == r.GetName() {
			return one, nil
		}
	}
	return nil, apierr.NotFound(r.GetName())
}

func (c *cabinet) ListPayouts(_ context.Context, r *settlementv1.ListPayoutsRequest) (*settlementv1.ListPayoutsResponse, error) {
	at := 0
	if r.GetPageToken() != "" {
		var err error
		if at, err = strconv.Atoi(r.GetPageToken()); err != nil {
			return nil, err
		}
	}
	answer := &settlementv1.ListPayoutsResponse{Payouts: c.pay[at : at+1]}
	if at+1 < len(c.pay) {
		answer.NextPageToken = strconv.Itoa(at + 1)
	}
	return answer, nil
}

func (c *cabinet) ListUnpriced(context.Context, *settlementv1.ListUnpricedRequest) (*settlementv1.ListUnpricedResponse, error) {
	return &settlementv1.ListUnpricedResponse{}, nil
}

// asking connects a press to the cabinet by real gRPC and gives the caller an identity.
func asking(t *testing.T, c *cabinet, role accessv1.Role, member string) (*press, context.Context) {
	t.Helper()
	conn := rpctest.New(t, func(r grpc.ServiceRegistrar) {
		intakev1.RegisterIntakeServiceServer(r, c)
		gradingv1.RegisterGradingServiceServer(r, c)
		settlementv1.RegisterSettlementServiceServer(r, c)
	}).Gateway()
	p, err := newPress(Options{
		Services: rest.Services{Intake: conn, Grading: conn, Inventory: conn, Settlement: conn}, Prefix: prefix, DisputeDays: 30,
		Cooperative: config.Cooperative{Name: "Fallow Creek Honey Cooperative", Site: "FC", Unit: "LB", Currency: "USD", TimeZone: "America/Chicago"},
	})
	require.NoError(t, err)
	return p, access.Outgoing(t.Context(), access.Actor{Login: "users/somebody", Roles: []accessv1.Role{role}, Member: member})
}

// reissues is a delivery written to the wrong member and put right twice; the third ticket stands.
func reissues() []*intakev1.Ticket {
	var chain []*intakev1.Ticket
	for i, member := range []string{"members/M-0007", "members/M-0031", "members/M-0012"} {
		t := testTicket(2)
		t.Name, t.Number, t.Member = fmt.Sprintf("tickets/%d", i+1), fmt.Sprintf("FC-2026-00073%d", i+1), member
		if i > 0 {
			t.Supersedes = fmt.Sprintf("tickets/%d", i)
		}
		if i < 2 {
			t.State, t.SupersededBy = intakev1.TicketState_TICKET_STATE_SUPERSEDED, fmt.Sprintf("tickets/%d", i+2)
			t.Void = &intakev1.TicketVoid{Approver: "users/office1", ApproveTime: at(0)}
		}
		chain = append(chain, t)
	}
	return chain
}

func TestReadFilled_NumbersABarrelByItsFirstTicket(t *testing.T) {
	t.Parallel()
	p, ctx := asking(t, &cabinet{tickets: reissues()}, accessv1.Role_ROLE_DOCK, "")
	pdf, name, err := p.makeDrumLabel(ctx, last(testBarrel(2).GetName()))
	require.NoError(t, err)
	require.Equal(t, "drum-FC-04432.pdf", name)
	require.Equal(t, "00206141416007310028", scan(t, pdf)[0][0].Data, "the code of ticket 731")
	require.Contains(t, wordsOf(t, pdf), "FC-2026-000733", "the ticket that stands")
}

func TestReadFilled_RefusesADrumThatWouldBeTakenForStock(t *testing.T) {
	t.Parallel()
	for _, state := range []intakev1.TicketState{intakev1.TicketState_TICKET_STATE_VOIDED, intakev1.TicketState_TICKET_STATE_CANCELLED} {
		void := testTicket(2)
		void.State = state
		p, ctx := asking(t, &cabinet{tickets: []*intakev1.Ticket{void}}, accessv1.Role_ROLE_DOCK, "")
		_, _, err := p.makeDrumLabel(ctx, last(testBarrel(1).GetName()))
		rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": words(state)})
	}
}

func TestReadDelivery_NamesTheOtherTicketToWhoMaySeeIt(t *testing.T) {
	t.Parallel()
	c := &cabinet{tickets: reissues()}
	p, ctx := asking(t, c, accessv1.Role_ROLE_OFFICE, "")
	d, err := p.readDelivery(ctx, "2")
	require.NoError(t, err)
	require.Equal(t, "ticket FC-2026-000731", d.replaces)
	require.Equal(t, "ticket FC-2026-000733", d.replacedBy)
	require.Len(t, d.scales, 1)

	p, ctx = asking(t, c, accessv1.Role_ROLE_MEMBER, "members/M-0031")
	pdf, _, err := p.makeTicketPDF(ctx, "2")
	require.NoError(t, err)
	text := wordsOf(t, pdf)
	require.Contains(t, text, "Replaced by another ticket")
	for _, neighbours := range []string{"FC-2026-000731", "FC-2026-000733", "M-0007", "M-0012"} {
		require.NotContains(t, text, neighbours)
	}
	_, _, err = p.makeTicketPDF(ctx, "3")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, nil)
}

func TestReadGraded_NamesBothNeighbours(t *testing.T) {
	t.Parallel()
	old, now, next := testCertificate(), testCertificate(), testCertificate()
	old.Name, old.Number = "certificates/c0", "G-2026-000398"
	now.Supersedes, now.SupersededBy = old.GetName(), "certificates/c2"
	next.Name, next.Number = "certificates/c2", "G-2026-000440"
	p, ctx := asking(t, &cabinet{certificates: []*gradingv1.Certificate{old, now, next}}, accessv1.Role_ROLE_OFFICE, "")
	g, err := p.readGraded(ctx, "c1")
	require.NoError(t, err)
	require.Equal(t, []string{"certificate G-2026-000398", "certificate G-2026-000440"}, []string{g.replaces, g.replacedBy})
}

func TestReadAccount_TurnsEveryPage(t *testing.T) {
	t.Parallel()
	pay := slices.Concat(testPayouts(), testPayouts(), testPayouts())
	p, ctx := asking(t, &cabinet{pay: pay}, accessv1.Role_ROLE_OFFICE, "")
	a, err := p.readAccount(ctx, "M-0012")
	require.NoError(t, err)
	require.Len(t, a.payouts, 6)
	require.Equal(t, "1437.09", a.sums.net.String(), "three times 479.03")
}

// Papers are drawn side by side and come out the same each time.
func TestPapers_AreTheSameSideBySide(t *testing.T) {
	t.Parallel()
	p := testPress(t, prefix)
	ticket := testTicket(3)
	draw := map[string]func() ([]byte, error){
		"ticket":      func() ([]byte, error) { return p.ticketPDF(testDelivery(30)) },
		"drum":        func() ([]byte, error) { return p.drumLabel(filled{ticket.GetBarrels()[0], ticket, ticket}) },
		"samples":     func() ([]byte, error) { return p.sampleLabels("T3FN4HQX6") },
		"certificate": func() ([]byte, error) { return p.certificate(graded{certificate: testCertificate()}) },
		"payouts":     func() ([]byte, error) { return p.payoutsPDF(testAccount(t)) },
	}
	var mu sync.Mutex
	seen := map[string]map[string]bool{}
	var group sync.WaitGroup
	for name, make := range draw {
		for range 6 {
			group.Go(func() {
				pdf, err := make()
				mu.Lock()
				defer mu.Unlock()
				if seen[name] == nil {
					seen[name] = map[string]bool{}
				}
				seen[name][fmt.Sprint(err)+string(pdf)] = true
			})
		}
	}
	group.Wait()
	require.Len(t, seen, len(draw))
	for name, versions := range seen {
		require.Len(t, versions, 1, name)
	}
}
