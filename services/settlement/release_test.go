package settlement_test

import (
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/rpctest"
)

func (m *market) letGo(who access.Actor, name string, party settlementv1.ReleaseParty, on string) (*settlementv1.Encumbrance, error) {
	return m.as(who).RecordEncumbranceRelease(m.t.Context(), &settlementv1.RecordEncumbranceReleaseRequest{
		RequestId: uuid.NewString(), Name: name, Party: party, Signer: "P. Vale", SignDate: on, Document: "Release, file 12",
	})
}

func (m *market) end(who access.Actor, name string) (*settlementv1.Encumbrance, error) {
	return m.as(who).EndEncumbrance(m.t.Context(), &settlementv1.EndEncumbranceRequest{RequestId: uuid.NewString(), Name: name, EndDocument: "File 12, checked"})
}

func TestAnAssignmentIsEndedByBothSignaturesOnly(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	a := lien("M-0001", "50.0")
	a.Kind = settlementv1.EncumbranceKind_ENCUMBRANCE_KIND_ASSIGNMENT
	n := m.notice(a)
	both := []settlementv1.ReleaseParty{settlementv1.ReleaseParty_RELEASE_PARTY_MEMBER, settlementv1.ReleaseParty_RELEASE_PARTY_CREDITOR}
	require.Equal(t, both, n.GetReleasesMissing())
	_, err := m.end(treasurer, n.GetName())
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "RELEASE_MISSING"})
	require.ErrorContains(t, err, "the assignment of Valley Farm Credit counts until it is released. Not recorded yet: the release of the member and the release of Valley Farm Credit;")
	_, err = m.letGo(office, n.GetName(), both[0], "2026-09-19")
	rpctest.Faults(t, err, "sign_date")
	_, err = m.letGo(office, n.GetName(), both[0], "2099-01-01")
	rpctest.Faults(t, err, "sign_date")
	_, err = m.letGo(office, n.GetName(), both[0], "2026-09-20")
	require.NoError(t, err)
	_, err = m.letGo(office, n.GetName(), both[0], "2026-09-20")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "RELEASED"})
	_, err = m.end(treasurer, n.GetName())
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "RELEASE_MISSING"})
	second := office
	second.Login = "users/office2"
	half, err := m.letGo(second, n.GetName(), both[1], "2026-09-20")
	require.NoError(t, err)
	require.Empty(t, half.GetReleasesMissing())
	for _, who := range []access.Actor{office, second} {
		_, err = m.end(who, n.GetName())
		rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": who.Login})
	}
	_, err = m.end(treasurer, n.GetName())
	require.NoError(t, err)
	list, err := m.as(auditor).ListEncumbrances(t.Context(), &settlementv1.ListEncumbrancesRequest{Member: "members/M-0001"})
	require.NoError(t, err)
	ended := list.GetEncumbrances()[0]
	require.Equal(t, "users/treasurer1", ended.GetEnder())
	require.Len(t, ended.GetReleases(), 2)
	r := ended.GetReleases()[1]
	require.Equal(t, []string{"P. Vale", "2026-09-20", "Release, file 12", "users/office2"}, []string{r.GetSigner(), r.GetSignDate(), r.GetDocument(), r.GetRecorder()})
	require.True(t, r.GetRecordTime().AsTime().Equal(m.clk.Now()))
}

func TestALienIsEndedByTheLendersReleaseOnly(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	n := m.notice(lien("M-0001", "50.0"))
	_, err := m.end(treasurer, n.GetName())
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "RELEASE_MISSING"})
	_, err = m.letGo(office, n.GetName(), settlementv1.ReleaseParty_RELEASE_PARTY_MEMBER, "2026-09-20")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "NOT_RELEASABLE"})
	_, err = m.letGo(office, n.GetName(), settlementv1.ReleaseParty_RELEASE_PARTY_CREDITOR, "2026-09-20")
	require.NoError(t, err)
	_, err = m.end(treasurer, n.GetName())
	require.NoError(t, err)
	_, err = m.letGo(office, n.GetName(), settlementv1.ReleaseParty_RELEASE_PARTY_CREDITOR, "2026-09-20")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "ENDED"})
}
