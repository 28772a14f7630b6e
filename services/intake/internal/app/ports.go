package app

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
)

// Store is where everything is kept. Reads of one resource fail with NOT_FOUND.
type Store interface {
	members
	splits
	scales
	tickets
	barrels
	captures
	reweighs
	custody
	rejects
	containers
	terms
	drums
	reports
}

type members interface {
	InsertMember(ctx context.Context, q pg.Querier, m domain.Member) error
	Member(ctx context.Context, q pg.Querier, number string) (domain.Member, error)
	Members(ctx context.Context, q pg.Querier, after string, limit int) ([]domain.Member, error)
}

type splits interface {
	// InsertSplit numbers the split.
	InsertSplit(ctx context.Context, q pg.Querier, s *domain.StandingSplit) error
	// SplitOn is the zero StandingSplit when nothing is agreed for the date.
	SplitOn(ctx context.Context, q pg.Querier, member, date string) (domain.StandingSplit, error)
	// Splits lists those recorded before the one numbered before, or all when that is 0, newest first.
	Splits(ctx context.Context, q pg.Querier, member string, before int64, limit int) ([]domain.StandingSplit, error)
}

type scales interface {
	InsertScale(ctx context.Context, q pg.Querier, s domain.Scale) error
	// LockScaleForCheck separates weighings before a check from those after it.
	LockScaleForCheck(ctx context.Context, q pg.Querier, id string) error
	Scale(ctx context.Context, q pg.Querier, id string) (domain.Scale, error)
	Scales(ctx context.Context, q pg.Querier) ([]domain.Scale, error)
	// LockScalesOfTicket keeps the scales a ticket was weighed on from being checked until the transaction ends.
	LockScalesOfTicket(ctx context.Context, q pg.Querier, ticket uuid.UUID) error
	ScalesByID(ctx context.Context, q pg.Querier, ids []string) ([]domain.Scale, error)
	// InsertCheck numbers the check.
	InsertCheck(ctx context.Context, q pg.Querier, c *domain.Check) error
}

type tickets interface {
	NextOrdinal(ctx context.Context, q pg.Querier, site string, year int) (int64, error)
	InsertTicket(ctx context.Context, q pg.Querier, t domain.Ticket) error
	InsertLines(ctx context.Context, q pg.Querier, t domain.Ticket) error
	TicketHead(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.Ticket, error)
	Ticket(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.Ticket, error)
	LockTicket(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.Ticket, error)
	Tickets(ctx context.Context, q pg.Querier, f domain.TicketFilter) ([]domain.Ticket, error)
	EndTicket(ctx context.Context, q pg.Querier, t domain.Ticket, by domain.Transition) error
	// SignTicket stores who signed for a ticket that is being closed.
	SignTicket(ctx context.Context, q pg.Querier, t domain.Ticket) error
	TouchTicket(ctx context.Context, q pg.Querier, t domain.Ticket) error
	InsertTicketChecks(ctx context.Context, q pg.Querier, ticket uuid.UUID, scales []domain.Scale) error
	InsertDeclaration(ctx context.Context, q pg.Querier, t domain.Ticket, declarer, note string) error
	InsertVoidRequest(ctx context.Context, q pg.Querier, ticket uuid.UUID, v domain.Void) error
	InsertVoidApproval(ctx context.Context, q pg.Querier, ticket uuid.UUID, v domain.Void) error
}

type barrels interface {
	// Place reads what decides about a weighing.
	Place(ctx context.Context, q pg.Querier, b domain.Barrel) (domain.Place, error)
	// QueueBarrel queues the putting of a barrel on its line, which fails unless its place is still as it was read.
	QueueBarrel(batch *pgx.Batch, b domain.Barrel)
	// BarrelFault names what was refused about a queued barrel: domain.ErrStale, ALREADY_EXISTS.
	BarrelFault(err error, b domain.Barrel) error
	Barrel(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.Barrel, error)
	// TouchBarrelsTicket gives the ticket of a barrel a new version if it is open, and reads both.
	TouchBarrelsTicket(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.Barrel, domain.Ticket, error)
	InsertPaperConfirmation(ctx context.Context, q pg.Querier, b domain.Barrel) error
	// TypedWeights are oldest first, after the one in the key.
	TypedWeights(ctx context.Context, q pg.Querier, span domain.Span, after domain.PageKey, limit int) ([]domain.Barrel, error)
	// InsertSample reports false when the code was used before.
	InsertSample(ctx context.Context, q pg.Querier, b domain.Barrel, drawer string) (bool, error)
}

type captures interface {
	// LockCaptures keeps two captures on one scale apart.
	LockCaptures(ctx context.Context, q pg.Querier, scale string) error
	// LastCapture is nil before the first.
	LastCapture(ctx context.Context, q pg.Querier, scale string) (*domain.Capture, error)
	Capture(ctx context.Context, q pg.Querier, scale string, id uuid.UUID) (domain.Capture, error)
	// Captures are newest first; the zero PageKey begins at the newest.
	Captures(ctx context.Context, q pg.Querier, scale string, before domain.PageKey, limit int) ([]domain.Capture, error)
	InsertCapture(ctx context.Context, q pg.Querier, c domain.Capture) error
}

type reweighs interface {
	// LockReviews keeps re-weighs and decisions on reviews apart: re-weighs share it.
	LockReviews(ctx context.Context, q pg.Querier, exclusive bool) error
	// LockScaleForWeighing keeps a scale from being checked until the transaction ends.
	LockScaleForWeighing(ctx context.Context, q pg.Querier, id string) error
	Reweighs(ctx context.Context, q pg.Querier, b domain.Barrel) (domain.Reweighs, error)
	InsertReweigh(ctx context.Context, q pg.Querier, r domain.Reweigh) error
	// InOpenReview reports whether somebody still has to decide about the barrel.
	InOpenReview(ctx context.Context, q pg.Querier, barrel uuid.UUID) (bool, error)
}

type custody interface {
	LockSample(ctx context.Context, q pg.Querier, code string) error
	SampledBarrel(ctx context.Context, q pg.Querier, code string) (uuid.UUID, error)
	// Custody has portions A, B and C, also those without events.
	Custody(ctx context.Context, q pg.Querier, code string) ([]domain.Portion, error)
	InsertCustody(ctx context.Context, q pg.Querier, p domain.Portion, e domain.CustodyEvent) error
	// PortionsDue are longest overdue first.
	PortionsDue(ctx context.Context, q pg.Querier, f domain.DueFilter) ([]domain.PortionDue, error)
}

type rejects interface {
	InsertReject(ctx context.Context, q pg.Querier, r domain.Reject) error
	LockReject(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.Reject, error)
	InsertRejectExit(ctx context.Context, q pg.Querier, r domain.Reject) error
	// Rejects lists those of a ticket and of the tickets it replaced, oldest first.
	Rejects(ctx context.Context, q pg.Querier, ticket uuid.UUID) ([]domain.Reject, error)
}

type containers interface {
	LockContainers(ctx context.Context, q pg.Querier, member string) error
	Containers(ctx context.Context, q pg.Querier, member string) (domain.ContainerAccount, error)
	// InsertContainerMove numbers the move.
	InsertContainerMove(ctx context.Context, q pg.Querier, m *domain.ContainerMove) error
}

// terms are what the office lays down.
type terms interface {
	// InsertClassTare and InsertDeposit number what they store.
	InsertClassTare(ctx context.Context, q pg.Querier, t *domain.ClassTare) error
	ClassTares(ctx context.Context, q pg.Querier) (domain.ClassTares, error)
	InsertDeposit(ctx context.Context, q pg.Querier, d *domain.Deposit) error
	Deposits(ctx context.Context, q pg.Querier) ([]domain.Deposit, error)
	// DepositOn is zero where none is in force.
	DepositOn(ctx context.Context, q pg.Querier, c domain.Container, date string) (quantity.Money, error)
	// Lots are oldest first.
	Lots(ctx context.Context, q pg.Querier, member string, c domain.Container) (domain.Lots, error)
}

type drums interface {
	LockDrum(ctx context.Context, q pg.Querier, tag string) error
	Drum(ctx context.Context, q pg.Querier, tag string) (domain.Drum, error)
	// Asset is the zero Asset but for the tag when nothing is known of the drum.
	Asset(ctx context.Context, q pg.Querier, tag string) (domain.Asset, error)
	Drums(ctx context.Context, q pg.Querier, owner, after string, limit int) ([]domain.Drum, error)
	RegisterDrum(ctx context.Context, q pg.Querier, a domain.Asset, actor string) error
	RetireDrum(ctx context.Context, q pg.Querier, a domain.Asset, actor string) error
	KeepTare(ctx context.Context, q pg.Querier, tag string, t domain.Tare) error
	FreeDrums(ctx context.Context, q pg.Querier, r domain.Release) error
	InsertTareVariance(ctx context.Context, q pg.Querier, v domain.TareVariance) error
}

// Lists by time are newest first; the zero PageKey begins at the newest.
type reports interface {
	// Doubts lists the barrels a failed check puts in doubt.
	Doubts(ctx context.Context, q pg.Querier, c domain.Check) ([]domain.Doubt, error)
	InsertReview(ctx context.Context, q pg.Querier, r domain.ScaleReview) error
	Reviews(ctx context.Context, q pg.Querier, f domain.ReviewFilter) ([]domain.ScaleReview, error)
	Review(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.ScaleReview, error)
	// Suspects are the barrels of a review in the order of its doubts.
	Suspects(ctx context.Context, q pg.Querier, r domain.ScaleReview) ([]domain.Suspect, error)
	InsertResolution(ctx context.Context, q pg.Querier, r domain.ScaleReview) error
	TareVariances(ctx context.Context, q pg.Querier, before domain.PageKey, limit int) ([]domain.TareVariance, error)
	NumberReport(ctx context.Context, q pg.Querier, site string, year int) (domain.NumberReport, error)
	Weighers(ctx context.Context, q pg.Querier, span domain.Span) ([]domain.WeigherLine, error)
}

// withNext asks for one row more than a page holds: it tells whether another page follows.
func withNext(size int) int { return size + 1 }
