// Package app is what settlement does: one file for each command or query, from loading to the facts that follow.
package app

import (
	"context"
	"strings"
	"sync"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/seal"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/ledger"
	"barrelhead.example/services/settlement/internal/domain/payment"
	"barrelhead.example/services/settlement/internal/domain/pool"
	"barrelhead.example/services/settlement/internal/domain/tax"
)

// Store is where schedules, payouts and the neighbours' facts are kept.
type Store interface {
	LockGate(ctx context.Context, tx pgx.Tx) error

	InsertSchedule(ctx context.Context, tx pgx.Tx, s *domain.Schedule) error
	InsertAdoption(ctx context.Context, tx pgx.Tx, s *domain.Schedule) error
	NextVersion(ctx context.Context, tx pgx.Tx, cropYear int) (int, error)
	Schedule(ctx context.Context, q pg.Querier, id uuid.UUID) (*domain.Schedule, error)
	AdoptedSchedules(ctx context.Context, q pg.Querier) ([]*domain.Schedule, error)
	AdoptionKey(ctx context.Context, q pg.Querier) (string, error)
	ListSchedules(ctx context.Context, q pg.Querier, after domain.ScheduleKey, drafts bool, limit int) ([]*domain.Schedule, error)

	InsertPayouts(ctx context.Context, tx pgx.Tx, payouts []*domain.Payout) error
	Payout(ctx context.Context, q pg.Querier, id uuid.UUID) (*domain.Payout, error)
	Payouts(ctx context.Context, q pg.Querier, ids []uuid.UUID) ([]*domain.Payout, error)
	MemberPayouts(ctx context.Context, q pg.Querier, member string, before int64, limit int) ([]*domain.Payout, error)

	SampleBarrels(ctx context.Context, tx pgx.Tx, sample string) ([]uuid.UUID, error)
	Situations(ctx context.Context, q pg.Querier, barrels []uuid.UUID) ([]domain.Situation, error)
	FeesDue(ctx context.Context, tx pgx.Tx, barrels []uuid.UUID) ([]domain.RefereeFee, error)
	Waiting(ctx context.Context, q pg.Querier, cropYear int, after domain.AgeKey, limit int) ([]domain.Situation, error)
	Unpriced(ctx context.Context, q pg.Querier, member string, after domain.AgeKey, limit int) ([]domain.Situation, error)

	MemberTotals(ctx context.Context, q pg.Querier, members []string) ([]domain.MemberTotal, error)
	Members(ctx context.Context, q pg.Querier, after string, limit int) ([]string, error)
	KnowsMember(ctx context.Context, q pg.Querier, member string) (bool, error)
	GrandTotal(ctx context.Context, q pg.Querier) (domain.MemberTotal, error)

	PoolStore
	SaleStore
	ProgressStore
	LedgerStore
	PaymentStore
	PaymentYearStore
	EquityStore
	LoanStore
	MemberStore
	TaxStore
	DisputeStore
	IssueStore
	DeliveryStore
}

// EquityStore is where members' capital is kept.
type EquityStore interface {
	EquityLots(ctx context.Context, q pg.Querier, member string) ([]domain.EquityLot, error)
	InsertRedemption(ctx context.Context, tx pgx.Tx, r *domain.Redemption) error
	RedeemedLots(ctx context.Context, tx pgx.Tx, members []string) ([]domain.EquityLot, error)
	InsertEquityCorrections(ctx context.Context, tx pgx.Tx, corrections []domain.EquityCorrection) error
	EquityCorrections(ctx context.Context, q pg.Querier, member string) ([]domain.EquityCorrection, error)
}

// PaymentStore is where payees, notices and payments are kept.
type PaymentStore interface {
	InsertAccount(ctx context.Context, tx pgx.Tx, a *payment.Account) error
	InsertVerification(ctx context.Context, tx pgx.Tx, a *payment.Account) error
	Account(ctx context.Context, q pg.Querier, id uuid.UUID) (*payment.Account, error)
	ListAccounts(ctx context.Context, q pg.Querier, payee string, before int64, limit int) ([]*payment.Account, error)
	NewestAccounts(ctx context.Context, q pg.Querier) ([]*payment.Account, error)
	AccountsByID(ctx context.Context, q pg.Querier, ids []uuid.UUID) ([]*payment.Account, error)
	AccountsSealedOtherwise(ctx context.Context, tx pgx.Tx, keyID string) ([]*payment.Account, error)
	SealAccount(ctx context.Context, tx pgx.Tx, a *payment.Account) error

	InsertEncumbrance(ctx context.Context, tx pgx.Tx, e *payment.Encumbrance) error
	InsertEnd(ctx context.Context, tx pgx.Tx, e *payment.Encumbrance, at time.Time) error
	InsertEncumbranceRelease(ctx context.Context, tx pgx.Tx, encumbrance uuid.UUID, r payment.Release) error
	Encumbrance(ctx context.Context, q pg.Querier, id uuid.UUID) (*payment.Encumbrance, error)
	ListEncumbrances(ctx context.Context, q pg.Querier, member string, before int64, limit int) ([]*payment.Encumbrance, error)
	StandingEncumbrances(ctx context.Context, q pg.Querier) ([]*payment.Encumbrance, error)

	OwedNow(ctx context.Context, q pg.Querier) ([]payment.Owed, error)
	CountBatches(ctx context.Context, tx pgx.Tx, year string) (int, error)
	InsertBatch(ctx context.Context, tx pgx.Tx, b *payment.Batch) error
	Batch(ctx context.Context, q pg.Querier, id uuid.UUID) (*payment.Batch, error)
	ListBatches(ctx context.Context, q pg.Querier, before int64, limit int) ([]*payment.Batch, error)
	InsertPaymentRelease(ctx context.Context, tx pgx.Tx, b *payment.Batch) error
	InsertPayments(ctx context.Context, tx pgx.Tx, items []payment.Item) error
	Payment(ctx context.Context, q pg.Querier, id uuid.UUID) ([]payment.Item, error)
	BatchPayments(ctx context.Context, q pg.Querier, batch uuid.UUID) ([]payment.Item, error)
	MemberPayments(ctx context.Context, q pg.Querier, member string) ([]payment.Item, error)
	InsertExport(ctx context.Context, tx pgx.Tx, batch uuid.UUID, format int, sum, exporter string, at time.Time) error

	YearPayouts(ctx context.Context, q pg.Querier, member string, cropYear int) ([]*domain.Payout, error)
	YearUnpriced(ctx context.Context, q pg.Querier, member string, cropYear int) ([]domain.Situation, error)
}

// LedgerStore is where the journal is kept.
type LedgerStore interface {
	InsertJournal(ctx context.Context, tx pgx.Tx, entries []*ledger.Entry) error
	Balances(ctx context.Context, q pg.Querier, through domain.Date) ([]ledger.Balance, int64, error)
	Journal(ctx context.Context, q pg.Querier, after domain.Date, number int64, through domain.Date, limit int) ([]*ledger.Entry, error)
	Owed(ctx context.Context, q pg.Querier, through domain.Date) (map[string]quantity.Money, error)
}

// PoolStore is where pools and their runs are kept.
type PoolStore interface {
	InsertPool(ctx context.Context, tx pgx.Tx, a *pool.Account) error
	Pool(ctx context.Context, q pg.Querier, id uuid.UUID) (*pool.Account, error)
	PoolsOf(ctx context.Context, q pg.Querier, cropYear int) ([]*pool.Account, error)
	ListPools(ctx context.Context, q pg.Querier, after pool.Key, limit int) ([]*pool.Account, error)
	InsertPoolEntry(ctx context.Context, tx pgx.Tx, e *pool.Record) error
	PoolEntries(ctx context.Context, q pg.Querier, id uuid.UUID, after int64, limit int) ([]*pool.Record, error)
	Patient(ctx context.Context, tx pgx.Tx) error
	ExportSnapshot(ctx context.Context, tx pgx.Tx) (id string, err error)
	ImportSnapshot(ctx context.Context, tx pgx.Tx, id string) error
	HarvestHeaps(ctx context.Context, q pg.Querier, scope domain.Scope, classOf func(pool.Kind) (int, error)) ([]pool.Heap, error)
	Harvest(ctx context.Context, q pg.Querier, scope domain.Scope, each func(*pool.Harvested) error) error
	UnpricedVarieties(ctx context.Context, q pg.Querier, cropYear int) (map[string]int, error)

	CopyRunLines(ctx context.Context, tx pgx.Tx, run uuid.UUID, fill func(write func(parts []pool.Kept) error) error) error
	InsertRunMembers(ctx context.Context, tx pgx.Tx, run uuid.UUID, members []pool.MemberResult) error
	RunHeaps(ctx context.Context, q pg.Querier, run uuid.UUID) ([]pool.Heap, error)
	RunLines(ctx context.Context, q pg.Querier, run uuid.UUID, each func(*pool.Kept) error) error
	ChangedLines(ctx context.Context, q pg.Querier, one, other uuid.UUID, each func(run uuid.UUID, k *pool.Kept) error) error
	RunAdvances(ctx context.Context, q pg.Querier, run uuid.UUID) (advances []uuid.UUID, owners []uint8, err error)
	RunMembers(ctx context.Context, q pg.Querier, run uuid.UUID, after string, limit int) ([]pool.MemberResult, error)
	InRun(ctx context.Context, q pg.Querier, run uuid.UUID, member string) (bool, error)
	InsertRun(ctx context.Context, tx pgx.Tx, r *pool.Run) error
	InputVersion(ctx context.Context, q pg.Querier, cropYear int) (int64, error)
	FingerprintAt(ctx context.Context, q pg.Querier, pool uuid.UUID, version int64) (string, error)
	CountRuns(ctx context.Context, tx pgx.Tx, cropYear int) (int, error)
	Run(ctx context.Context, q pg.Querier, id uuid.UUID) (*pool.Run, error)
	ListRuns(ctx context.Context, q pg.Querier, pool uuid.UUID, before int64, limit int) ([]*pool.Run, error)
	InsertVote(ctx context.Context, tx pgx.Tx, run *pool.Run, v pool.Vote) error
	InsertRelease(ctx context.Context, tx pgx.Tx, r *pool.Run) error
	ReleasedRuns(ctx context.Context, q pg.Querier) ([]*pool.Run, error)
}

// App is settlement's commands and queries.
type App struct {
	DB     *pg.DB
	Clock  clock.Clock
	Store  Store
	Terms  domain.Terms
	Zone   *time.Location
	Policy domain.HoldPolicy
	// Fee is what a lost appeal to the outside laboratory costs.
	Fee domain.FeePolicy
	// From is the cooperative as its bank knows it, for payment files.
	From payment.Originator
	// Keys seal account numbers; without one none is taken.
	Keys *seal.Ring
	// Tax is what the cooperative's accountant decided.
	Tax tax.Policy
	// House is the cooperative's name, for statements.
	House string
	// Contact is how members reach the office, for statements.
	Contact domain.Contact
	// AtOnce is how many barrels one transaction prices at most; 0 means 15,000, whose facts still fit a page of the feed.
	AtOnce int
	// ReportEvery is after how many barrels a run that is calculated says how far it is; 0 means 25,000.
	ReportEvery int

	preparing slots
	digests   digests

	mu     sync.Mutex
	key    string
	pricer *domain.Pricer
}

// pricerFor is the pricer of the schedules adopted and pools closed as q sees them. It is kept from call to call, under a key
// of all that was adopted and released: a count would be the same after an adoption that was rolled back and another that was not.
func (a *App) pricerFor(ctx context.Context, q pg.Querier) (*domain.Pricer, error) {
	key, err := a.Store.AdoptionKey(ctx, q)
	if err != nil {
		return nil, err
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.pricer != nil && a.key == key {
		return a.pricer, nil
	}
	schedules, err := a.Store.AdoptedSchedules(ctx, q)
	if err != nil {
		return nil, err
	}
	closed, err := a.closedPools(ctx, q)
	if err != nil {
		return nil, err
	}
	progress, err := a.openProgress(ctx, q)
	if err != nil {
		return nil, err
	}
	a.key, a.pricer = key, domain.NewPricer(schedules, closed, a.Policy, a.Terms).WithProgress(progress)
	return a.pricer, nil
}

// identity reads "collection/{uuid}". Anything else names nothing that exists.
func identity(name, collection string) (uuid.UUID, error) {
	id, found := strings.CutPrefix(name, collection+"/")
	if !found {
		return uuid.UUID{}, apierr.NotFound(name)
	}
	parsed, err := uuid.Parse(id)
	if err != nil || parsed.String() != id {
		return uuid.UUID{}, apierr.NotFound(name)
	}
	return parsed, nil
}
