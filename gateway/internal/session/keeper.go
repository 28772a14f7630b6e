package session

import (
	"context"
	"time"

	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/pg"
)

// Policy is how long sessions last and how many failures are borne.
type Policy struct {
	// Idle ends a session that was not used for so long.
	Idle time.Duration
	// Most ends every session so long after it began.
	Most time.Duration
	// Window is the time failures are counted in.
	Window time.Duration
	// PairFailures refuses a login from one address after so many failures since its last success there.
	PairFailures int
	// LoginFailures refuses a login from everywhere. It is much higher, so that a stranger cannot easily lock a person out.
	LoginFailures int
	// AddressFailures refuses an address whatever login it tries.
	AddressFailures int
	// Cost of a password check.
	Cost Cost
}

// DefaultPolicy fits a shift at the dock and a member who looks once a week.
func DefaultPolicy() Policy {
	return Policy{
		Idle: 12 * time.Hour, Most: 7 * 24 * time.Hour,
		Window: 15 * time.Minute, PairFailures: 5, LoginFailures: 30, AddressFailures: 60,
		Cost: DefaultCost,
	}
}

// Keeper keeps logins and sessions in the gateway's own schema.
type Keeper struct {
	db     *pg.DB
	clock  clock.Clock
	policy Policy
	hasher *hasher
	recent recent
}

// New returns a keeper over the schema "gateway".
func New(db *pg.DB, clk clock.Clock, policy Policy) *Keeper {
	return &Keeper{db: db, clock: clk, policy: policy, hasher: newHasher(policy.Cost)}
}

// Longest is how long a session can last.
func (k *Keeper) Longest() time.Duration { return k.policy.Most }

// Kinds of login events.
const (
	eventCreated     = "CREATED"
	eventPasswordSet = "PASSWORD_SET"
	eventRolesSet    = "ROLES_SET"
	eventDeactivated = "DEACTIVATED"
	eventActivated   = "ACTIVATED"
	eventSignedIn    = "SIGNED_IN"
	eventRefused     = "SIGN_IN_REFUSED"
	eventSignedOut   = "SIGNED_OUT"
)

type event struct {
	login, kind, actor, address, detail string
}

// record appends to what is never changed: who did what to which login, from where.
func (k *Keeper) record(ctx context.Context, q pg.Querier, e event) error {
	_, err := q.Exec(ctx, `INSERT INTO login_event (login, kind, actor, address, detail, event_time)
		VALUES ($1, $2, $3, $4, $5, $6)`, e.login, e.kind, e.actor, e.address, e.detail, k.clock.Now())
	return err
}
