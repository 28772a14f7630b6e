package payment_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/payment"
)

func state(t *testing.T, err error) (name, message string) {
	t.Helper()
	var s *domain.StateError
	require.ErrorAs(t, err, &s)
	return s.State, s.Message
}

func signed(party payment.Party, recorder string) payment.Release {
	return payment.Release{Party: party, Signer: "P. Vale", Signed: "2027-03-01", Document: "Release of 2027-03-01", Recorder: recorder}
}

func TestAnAssignmentEndsByBothOnly(t *testing.T) {
	t.Parallel()
	for _, kind := range []payment.EncumbranceKind{payment.Assignment, payment.JointPayee} {
		e := right(1, kind, "Feed mill", 10_00)
		e.Registrar = "users/office1"
		name, message := state(t, e.MayEnd("users/treasurer1"))
		require.Equal(t, "RELEASE_MISSING", name)
		require.Contains(t, message, "Not recorded yet: the release of the member and the release of Feed mill")
		require.NoError(t, e.Release(signed(payment.ByCreditor, "users/office2")))
		require.Equal(t, []payment.Party{payment.ByMember}, e.Missing())
		_, message = state(t, e.MayEnd("users/treasurer1"))
		require.Contains(t, message, "counts until it is released. Not recorded yet: the release of the member;")
		name, message = state(t, e.Release(signed(payment.ByCreditor, "users/office2")))
		require.Equal(t, "RELEASED", name)
		require.Contains(t, message, "the release of Feed mill is recorded already: signed by P. Vale on 2027-03-01")
		require.NoError(t, e.Release(signed(payment.ByMember, "users/office2")))
		var same *domain.SamePersonError
		require.ErrorAs(t, e.MayEnd("users/office1"), &same)
		require.ErrorAs(t, e.MayEnd("users/office2"), &same)
		require.NoError(t, e.MayEnd("users/treasurer1"))
		e.Ender = "users/treasurer1"
		name, _ = state(t, e.Release(signed(payment.ByMember, "users/office2")))
		require.Equal(t, "ENDED", name)
	}
}

func TestWhoseReleaseEndsWhat(t *testing.T) {
	t.Parallel()
	lien := right(1, payment.Lien, "Valley Farm Credit", 50_00)
	require.Equal(t, []payment.Party{payment.ByCreditor}, lien.Missing())
	name, message := state(t, lien.Release(signed(payment.ByMember, "users/office1")))
	require.Equal(t, "NOT_RELEASABLE", name)
	require.Equal(t, "no release of the member ends the lien of Valley Farm Credit; it is ended by its own paper", message)
	for _, kind := range []payment.EncumbranceKind{payment.Withholding, payment.Levy, payment.Heir} {
		e := right(1, kind, "Authority", 50_00)
		require.NoError(t, e.MayEnd("users/treasurer1"), "its own paper ends it")
		name, _ = state(t, e.Release(signed(payment.ByCreditor, "users/office1")))
		require.Equal(t, "NOT_RELEASABLE", name)
	}
	lien.Unresolved = true
	require.NoError(t, lien.MayEnd("users/treasurer1"), "what never counted needs no release")
}

func TestAReleaseSaysWhoWhenAndByWhat(t *testing.T) {
	t.Parallel()
	require.Empty(t, signed(payment.ByMember, "").Validate("2027-03-01", "2027-03-01"))
	bad := payment.Release{Signer: " ", Document: " x ", Signed: "2027-03-01"}
	require.Len(t, bad.Validate("2027-03-02", "2027-03-05"), 3)
	require.Equal(t, "is 2027-03-01, after today, 2027-02-28", signed(payment.ByMember, "").Validate("2026-09-01", "2027-02-28")[0].Message)
}
