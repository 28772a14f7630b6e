package rpc_test

import (
	"context"
	"crypto/ed25519"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/grading/internal/app"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/grading/internal/project"
	"barrelhead.example/services/grading/internal/rpc"
	"barrelhead.example/services/grading/internal/store"
	"barrelhead.example/services/kit/checkdigit"
	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/pgtest"
	"barrelhead.example/services/kit/rpctest"
)

// lab is a running laboratory with its people.
type lab struct {
	t            *testing.T
	db           *pg.DB
	clock        *clock.Fake
	server       *rpctest.Server
	tech, second gradingv1.GradingServiceClient
	lead         gradingv1.GradingServiceClient
	sequence     int64
	app          *app.App
}

var morning = time.Date(2026, 9, 14, 13, 0, 0, 0, time.UTC)

func newLab(t *testing.T, change ...func(*app.App)) *lab {
	t.Helper()
	zone, err := time.LoadLocation("America/Chicago")
	require.NoError(t, err)
	l := &lab{t: t, db: pgtest.New(t, "grading"), clock: clock.NewFake(morning)}
	l.app = &app.App{
		Signer: domain.NewSigner(ed25519.NewKeyFromSeed(make([]byte, ed25519.SeedSize))),
		DB:     l.db, Clock: l.clock, Zone: zone, Library: domain.Published(),
		Bench: store.Store{}, Readings: store.Store{}, Releases: store.Store{}, Controls: store.Store{}, Appeals: store.Store{},
		Outside: store.Store{}, Custody: store.Store{}, Oversight: store.Store{},
	}
	for _, c := range change {
		c(l.app)
	}
	l.server = rpctest.New(t, func(r grpc.ServiceRegistrar) {
		gradingv1.RegisterGradingServiceServer(r, &rpc.Server{App: l.app})
	})
	l.tech = l.as("tech1", accessv1.Role_ROLE_LAB)
	l.second = l.as("tech2", accessv1.Role_ROLE_LAB)
	l.lead = l.as("lead1", accessv1.Role_ROLE_LAB_LEAD)
	return l
}

func (l *lab) as(login string, roles ...accessv1.Role) gradingv1.GradingServiceClient {
	return gradingv1.NewGradingServiceClient(l.server.As(rpctest.Person(login, roles...)))
}

// code makes a valid blind code out of a few characters.
func code(t testing.TB, body string) string {
	t.Helper()
	check, err := checkdigit.Code(body)
	require.NoError(t, err)
	return body + check
}

// barrelOf is what the laboratory must never learn.
const barrelOf = "barrels/5d0c1b1e-77aa-4c11-9d0e-0b4442aa4242"

// draw brings intake's fact of a new sample and returns the resource name.
func (l *lab) draw(body string) string {
	l.t.Helper()
	return l.drawAt(body, morning.Add(time.Duration(l.sequence)*time.Minute))
}

func (l *lab) drawAt(body string, at time.Time) string {
	l.t.Helper()
	name := "samples/" + code(l.t, body)
	l.apply(feed.Event{
		Aggregate: barrelOf, Actor: "users/dock1", OccurTime: at,
		Payload: &intakev1.SampleDrawn{Sample: name, Barrel: barrelOf, Variety: "clover", CropYear: 2026},
	})
	return name
}

func (l *lab) apply(ev feed.Event) {
	l.t.Helper()
	require.Empty(l.t, l.applied(ev))
}

// applied brings a fact of intake and returns what the laboratory says to it.
func (l *lab) applied(ev feed.Event) (facts []feed.Fact) {
	l.t.Helper()
	l.sequence++
	ev.Sequence, ev.ID = l.sequence, uuid.New()
	err := l.db.InTx(l.t.Context(), func(ctx context.Context, tx pgx.Tx) (err error) {
		facts, err = project.Intake(store.Store{}, l.app)(ctx, tx, ev)
		return err
	})
	require.NoError(l.t, err)
	return facts
}

func id() string { return uuid.NewString() }

func (l *lab) read(who gradingv1.GradingServiceClient, sample string, kind gradingv1.ReadingKind, raw, reason string) *gradingv1.Reading {
	l.t.Helper()
	r, err := who.RecordReading(l.t.Context(), &gradingv1.RecordReadingRequest{
		RequestId: id(), Sample: sample, Kind: kind, RawValue: raw, Reason: reason,
	})
	require.NoError(l.t, err)
	return r
}

// measure records everything a strained sample needs.
func (l *lab) measure(sample, moisture, pfund, flavor, defects string) {
	l.t.Helper()
	l.read(l.tech, sample, gradingv1.ReadingKind_READING_KIND_MOISTURE_PERCENT, moisture, "")
	l.read(l.tech, sample, gradingv1.ReadingKind_READING_KIND_PFUND_MM, pfund, "")
	l.read(l.tech, sample, gradingv1.ReadingKind_READING_KIND_FLAVOR, flavor, "")
	l.read(l.tech, sample, gradingv1.ReadingKind_READING_KIND_DEFECTS, defects, "")
}

func (l *lab) certify(sample, reason string) *gradingv1.Certificate {
	l.t.Helper()
	c, err := l.lead.IssueCertificate(l.t.Context(), &gradingv1.IssueCertificateRequest{RequestId: id(), Sample: sample, Reason: reason})
	require.NoError(l.t, err)
	return c
}

// facts are what the laboratory told its neighbours, in order.
func (l *lab) facts() []string {
	l.t.Helper()
	require.NoError(l.t, feed.Number(l.t.Context(), l.db.Pool()))
	rows, err := l.db.Pool().Query(l.t.Context(), `SELECT type FROM event ORDER BY sequence`)
	require.NoError(l.t, err)
	types, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(l.t, err)
	return types
}
