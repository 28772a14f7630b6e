package rpc_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/intake/internal/app"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/intake/internal/rpc"
	"barrelhead.example/services/intake/internal/store"
	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/pgtest"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/rpctest"
)

// morning is a working day at the invented cooperative, 07:00 in its own zone.
var morning = time.Date(2026, 9, 14, 12, 0, 0, 0, time.UTC)

// dock is a running service with a database of its own, and everybody who works with it.
type dock struct {
	t       testing.TB
	db      *pg.DB
	app     *app.App
	clock   *clock.Fake
	server  *rpctest.Server
	clerk   intakev1.IntakeServiceClient
	second  intakev1.IntakeServiceClient
	office  intakev1.IntakeServiceClient
	store   intakev1.IntakeServiceClient
	auditor intakev1.IntakeServiceClient
}

func start(t testing.TB) *dock {
	t.Helper()
	zone, err := time.LoadLocation("America/Chicago")
	require.NoError(t, err)
	d := &dock{t: t, db: pgtest.New(t, "intake"), clock: clock.NewFake(morning)}
	a := &app.App{
		Store: store.Store{}, Clock: d.clock, Site: "FC", Unit: quantity.LB, Currency: "USD", Zone: zone,
		Expect: domain.Expect(quantity.LB, domain.Bands{}, 0), Codes: domain.SecureCodes,
		ReweighDays: domain.DefaultReweighDays, CaptureAge: domain.DefaultCaptureAge,
	}
	d.app = a
	d.server = rpctest.New(t, func(r grpc.ServiceRegistrar) {
		server := rpc.New(a, d.db)
		intakev1.RegisterIntakeServiceServer(r, server)
		intakev1.RegisterDockTermsServiceServer(r, rpc.NewTerms(server))
		feedv1.RegisterFeedServiceServer(r, feed.NewServer(d.db))
	})
	d.clerk = d.as("dock1", accessv1.Role_ROLE_DOCK)
	d.second = d.as("dock2", accessv1.Role_ROLE_DOCK)
	d.office = d.as("office1", accessv1.Role_ROLE_OFFICE)
	d.store = d.as("warehouse1", accessv1.Role_ROLE_WAREHOUSE)
	d.auditor = d.as("auditor1", accessv1.Role_ROLE_AUDITOR)
	return d
}

func (d *dock) as(login string, roles ...accessv1.Role) intakev1.IntakeServiceClient {
	return intakev1.NewIntakeServiceClient(d.server.As(rpctest.Person(login, roles...)))
}

func (d *dock) member(number string) intakev1.IntakeServiceClient {
	return intakev1.NewIntakeServiceClient(d.server.As(rpctest.Member(number)))
}

func id() string { return uuid.NewString() }

func lb(value string) *typev1.Mass { return &typev1.Mass{Value: value, Unit: "LB"} }

// ready is a dock with two members and a scale that passed its check this morning.
func ready(t testing.TB) *dock {
	t.Helper()
	d := start(t)
	d.enrol("M-0007", "M-0008")
	d.newScale("2")
	d.check("2", "600.0")
	return d
}

func (d *dock) enrol(numbers ...string) {
	d.t.Helper()
	for _, number := range numbers {
		_, err := d.office.CreateMember(d.t.Context(), &intakev1.CreateMemberRequest{
			RequestId: id(), MemberNumber: number, DisplayName: "Apiary " + number, AgreementVersion: "2026",
		})
		require.NoError(d.t, err)
	}
}

func (d *dock) newScale(scale string) {
	d.t.Helper()
	_, err := d.as("admin1", accessv1.Role_ROLE_ADMINISTRATOR).CreateScale(d.t.Context(), &intakev1.CreateScaleRequest{
		RequestId: id(), ScaleId: scale, Scale: &intakev1.Scale{
			Description: "Floor scale at the dock", Division: lb("0.5"), Capacity: lb("1000"), Seal: "S-114",
			AccuracyClass: intakev1.AccuracyClass_ACCURACY_CLASS_III, CertificateExpireDate: "2027-02-28",
		},
	})
	require.NoError(d.t, err)
}

// check tries a scale with a check barrel of 600 lb.
func (d *dock) check(scale, shown string) *intakev1.ScaleCheck {
	d.t.Helper()
	done, err := d.clerk.RecordScaleCheck(d.t.Context(), &intakev1.RecordScaleCheckRequest{
		RequestId: id(), Scale: "scales/" + scale, ZeroIndication: lb("0"), Loads: []*intakev1.CheckLoad{
			{WeightId: "TW-50-1", Known: lb("50"), Indication: lb("50")},
			{WeightId: "CB-1", Known: lb("600"), Indication: lb(shown)},
		},
	})
	require.NoError(d.t, err)
	return done
}

func (d *dock) open(member string) *intakev1.Ticket {
	d.t.Helper()
	t, err := d.clerk.OpenTicket(d.t.Context(), &intakev1.OpenTicketRequest{
		RequestId: id(), Member: "members/" + member, CropYear: 2026, HarvestDeclared: true,
	})
	require.NoError(d.t, err)
	return t
}

// usual is a barrel of 642.5 lb net.
func usual(ticket *intakev1.Ticket, drum string) *intakev1.WeighBarrelRequest {
	return &intakev1.WeighBarrelRequest{
		RequestId: id(), Ticket: ticket.GetName(), DrumTag: drum, Variety: "basswood", Gross: lb("684.5"), Tare: lb("42.0"),
		TareKind: intakev1.TareKind_TARE_KIND_STENCILLED, Scale: "scales/2", RawIndication: "  684.5 lb", Stable: true,
	}
}

func (d *dock) weigh(ticket *intakev1.Ticket, drum string) *intakev1.Barrel {
	d.t.Helper()
	b, err := d.clerk.WeighBarrel(d.t.Context(), usual(ticket, drum))
	require.NoError(d.t, err)
	return b
}

func (d *dock) sample(barrel *intakev1.Barrel) *intakev1.Barrel {
	d.t.Helper()
	b, err := d.clerk.DrawSample(d.t.Context(), &intakev1.DrawSampleRequest{RequestId: id(), Barrel: barrel.GetName()})
	require.NoError(d.t, err)
	return b
}

func (d *dock) close(ticket *intakev1.Ticket, count int) *intakev1.Ticket {
	d.t.Helper()
	t, err := d.clerk.CloseTicket(d.t.Context(), closing(ticket, count))
	require.NoError(d.t, err)
	return t
}

func closing(ticket *intakev1.Ticket, count int) *intakev1.CloseTicketRequest {
	return &intakev1.CloseTicketRequest{RequestId: id(), Name: ticket.GetName(), BarrelCount: int32(count)}
}

// deliver receives a whole load of usual barrels, in drums numbered from first.
func (d *dock) deliver(member string, first, count int) *intakev1.Ticket {
	d.t.Helper()
	t := d.open(member)
	for i := range count {
		d.sample(d.weigh(t, fmt.Sprintf("FC-%05d", first+i)))
	}
	return d.close(t, count)
}

func (d *dock) ticket(name string) *intakev1.Ticket {
	d.t.Helper()
	t, err := d.office.GetTicket(d.t.Context(), &intakev1.GetTicketRequest{Name: name})
	require.NoError(d.t, err)
	return t
}

func (d *dock) drum(tag string) *intakev1.Drum {
	d.t.Helper()
	drum, err := d.office.GetDrum(d.t.Context(), &intakev1.GetDrumRequest{Name: "drums/" + tag})
	require.NoError(d.t, err)
	return drum
}

// facts reads the whole feed as a neighbour does.
func (d *dock) facts() []*feedv1.Event {
	d.t.Helper()
	ctx, stop := context.WithCancel(d.t.Context())
	defer stop()
	stream, err := feedv1.NewFeedServiceClient(d.server.AsService("grading")).Watch(ctx, &feedv1.WatchRequest{MaxEvents: 1000})
	require.NoError(d.t, err)
	var events []*feedv1.Event
	for {
		page, err := stream.Recv()
		require.NoError(d.t, err)
		events = append(events, page.GetEvents()...)
		if page.GetThroughSequence() == page.GetHeadSequence() {
			return events
		}
	}
}

// payload decodes an event as P, and fails when it is something else.
func payload[P proto.Message](t testing.TB, e *feedv1.Event) P {
	t.Helper()
	m, err := e.GetPayload().UnmarshalNew()
	require.NoError(t, err)
	p, ok := m.(P)
	require.True(t, ok, "got %T", m)
	return p
}
