package store

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain/payment"
)

var accountColumns = `a.account, a.place, a.payee, a.holder, a.routing_number, a.account_number, a.savings, a.iban, a.enterer, a.enter_time,
	` + date("a.usable_from") + `, coalesce(v.verifier, ''), coalesce(v.verification, ''), v.verify_time, a.ending, coalesce(s.key_id, ''), s.sealed
	FROM payee_account a LEFT JOIN payee_verification v USING (account) LEFT JOIN payee_secret s USING (account)`

func scanAccount(row pgx.CollectableRow) (*payment.Account, error) {
	var a payment.Account
	err := row.Scan(&a.ID, &a.Place, &a.Payee, &a.Holder, &a.Routing, &a.Number, &a.Savings, &a.IBAN, &a.Enterer, &a.EnterTime,
		&a.UsableFrom, &a.Verifier, &a.Verification, &a.VerifyTime, &a.Tail, &a.KeyID, &a.Sealed)
	return &a, err
}

// InsertAccount saves a payee's account, whose number must be sealed.
func (Store) InsertAccount(ctx context.Context, tx pgx.Tx, a *payment.Account) error {
	b := &pgx.Batch{}
	b.Queue(`INSERT INTO payee_account (account, payee, holder, routing_number, account_number, savings, iban, enterer, enter_time, usable_from, ending)
		VALUES ($1, $2, $3, $4, '', $5, '', $6, $7, $8, $9)`, a.ID, a.Payee, a.Holder, a.Routing, a.Savings, a.Enterer, a.EnterTime, day(a.UsableFrom), a.Tail)
	b.Queue(`INSERT INTO payee_secret (account, key_id, sealed) VALUES ($1, $2, $3)`, a.ID, a.KeyID, a.Sealed)
	return wrap("save the account", tx.SendBatch(ctx, b).Close())
}

// AccountsSealedOtherwise are the accounts in clear text, or sealed under another key.
func (Store) AccountsSealedOtherwise(ctx context.Context, tx pgx.Tx, keyID string) ([]*payment.Account, error) {
	return collect(ctx, tx, "read accounts to be sealed", `SELECT `+accountColumns+` WHERE s.key_id IS DISTINCT FROM $1 ORDER BY a.place`, scanAccount, keyID)
}

// SealAccount keeps a number sealed and takes its clear text away.
func (Store) SealAccount(ctx context.Context, tx pgx.Tx, a *payment.Account) error {
	b := &pgx.Batch{}
	b.Queue(`INSERT INTO payee_secret (account, key_id, sealed) VALUES ($1, $2, $3)
		ON CONFLICT (account) DO UPDATE SET key_id = excluded.key_id, sealed = excluded.sealed`, a.ID, a.KeyID, a.Sealed)
	b.Queue(`UPDATE payee_account SET account_number = '', iban = '' WHERE account = $1`, a.ID)
	return wrap("seal an account", tx.SendBatch(ctx, b).Close())
}

// InsertVerification saves the call-back.
func (Store) InsertVerification(ctx context.Context, tx pgx.Tx, a *payment.Account) error {
	return exec(ctx, tx, "save the verification", `INSERT INTO payee_verification (account, verifier, verification, verify_time) VALUES ($1, $2, $3, $4)`,
		a.ID, a.Verifier, a.Verification, a.VerifyTime)
}

// Account is one account, or nil.
func (Store) Account(ctx context.Context, q pg.Querier, id uuid.UUID) (*payment.Account, error) {
	return one(ctx, q, "read the account", `SELECT `+accountColumns+` WHERE a.account = $1`, scanAccount, id)
}

// ListAccounts gives accounts, newest first, beginning before place; 0 begins at the newest, an empty payee is all.
func (Store) ListAccounts(ctx context.Context, q pg.Querier, payee string, before int64, limit int) ([]*payment.Account, error) {
	return collect(ctx, q, "list the accounts", `SELECT `+accountColumns+`
		WHERE ($1 = '' OR a.payee = $1) AND ($2 = 0 OR a.place < $2) ORDER BY a.place DESC LIMIT $3`, scanAccount, payee, before, limit)
}

// NewestAccounts is the newest account of every payee.
func (Store) NewestAccounts(ctx context.Context, q pg.Querier) ([]*payment.Account, error) {
	return collect(ctx, q, "read the payees' accounts", `SELECT DISTINCT ON (a.payee) `+accountColumns+` ORDER BY a.payee, a.place DESC`, scanAccount)
}

// AccountsByID are the accounts of these identities.
func (Store) AccountsByID(ctx context.Context, q pg.Querier, ids []uuid.UUID) ([]*payment.Account, error) {
	return collect(ctx, q, "read accounts", `SELECT `+accountColumns+` WHERE a.account = ANY($1)`, scanAccount, ids)
}

var encumbranceColumns = `e.encumbrance, e.place, e.member, e.kind, e.creditor, e.percent, e.most, e.document, ` + date("e.receive_date") + `,
	coalesce(` + date("e.expire_date") + `, ''), e.unresolved, e.crop_year, e.registrar, e.register_time, coalesce(d.ender, ''), coalesce(d.document, ''),
	coalesce((SELECT sum(p.amount) FROM payment p WHERE p.payee = 'encumbrances/' || e.encumbrance), 0)::bigint,
	(SELECT coalesce(jsonb_agg(jsonb_build_object('Party', r.party, 'Signer', r.signer, 'Signed', r.sign_date, 'Document', r.document, 'Recorder', r.recorder,
		'Time', r.record_time) ORDER BY r.record_time, r.party), '[]') FROM encumbrance_release r WHERE r.encumbrance = e.encumbrance)
	FROM encumbrance e LEFT JOIN encumbrance_end d USING (encumbrance)`

func scanEncumbrance(row pgx.CollectableRow) (*payment.Encumbrance, error) {
	var e payment.Encumbrance
	err := row.Scan(&e.ID, &e.Place, &e.Member, &e.Kind, &e.Creditor, &e.Percent, &e.Limit, &e.Document, &e.Received,
		&e.Expires, &e.Unresolved, &e.CropYear, &e.Registrar, &e.RegisterTime, &e.Ender, &e.EndDocument, &e.Taken, &e.Releases)
	return &e, err
}

// InsertEncumbrance saves a notice.
func (Store) InsertEncumbrance(ctx context.Context, tx pgx.Tx, e *payment.Encumbrance) error {
	return exec(ctx, tx, "save the notice", `INSERT INTO encumbrance
		(encumbrance, member, kind, creditor, percent, most, document, receive_date, expire_date, unresolved, registrar, register_time, crop_year)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8::text::date, nullif($9, '')::date, $10, $11, $12, $13)`,
		e.ID, e.Member, int16(e.Kind), e.Creditor, e.Percent, e.Limit, e.Document, e.Received, e.Expires, e.Unresolved, e.Registrar, e.RegisterTime, e.CropYear) //nolint:gosec // one of four
}

// InsertEncumbranceRelease saves one party's word.
func (Store) InsertEncumbranceRelease(ctx context.Context, tx pgx.Tx, encumbrance uuid.UUID, r payment.Release) error {
	return exec(ctx, tx, "save the release", `INSERT INTO encumbrance_release (encumbrance, party, signer, sign_date, document, recorder, record_time)
		VALUES ($1, $2, $3, $4, $5, $6, $7)`, encumbrance, int16(r.Party), r.Signer, day(r.Signed), r.Document, r.Recorder, r.Time) //nolint:gosec // one of two
}

// InsertEnd saves what ended a notice.
func (Store) InsertEnd(ctx context.Context, tx pgx.Tx, e *payment.Encumbrance, at time.Time) error {
	return exec(ctx, tx, "save the end", `INSERT INTO encumbrance_end (encumbrance, ender, document, end_time) VALUES ($1, $2, $3, $4)`,
		e.ID, e.Ender, e.EndDocument, at)
}

// Encumbrance is one notice, or nil.
func (Store) Encumbrance(ctx context.Context, q pg.Querier, id uuid.UUID) (*payment.Encumbrance, error) {
	return one(ctx, q, "read the notice", `SELECT `+encumbranceColumns+` WHERE e.encumbrance = $1`, scanEncumbrance, id)
}

// ListEncumbrances gives notices, newest first, beginning before place; 0 begins at the newest, an empty member is all.
func (Store) ListEncumbrances(ctx context.Context, q pg.Querier, member string, before int64, limit int) ([]*payment.Encumbrance, error) {
	return collect(ctx, q, "list the notices", `SELECT `+encumbranceColumns+`
		WHERE ($1 = '' OR e.member = $1) AND ($2 = 0 OR e.place < $2) ORDER BY e.place DESC LIMIT $3`, scanEncumbrance, member, before, limit)
}

// StandingEncumbrances are the notices that have not ended.
func (Store) StandingEncumbrances(ctx context.Context, q pg.Querier) ([]*payment.Encumbrance, error) {
	return collect(ctx, q, "read the notices", `SELECT `+encumbranceColumns+` WHERE d.encumbrance IS NULL ORDER BY e.place`, scanEncumbrance)
}
