package stock_test

import (
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"barrelhead.example/services/inventory/internal/domain/stock"
)

func claimed(c stock.Claim) stock.Item {
	return stock.Item{Barrel: uuid.New(), DrumTag: "FC-00442", Claims: []stock.Claim{c}}
}

func TestAClaimIsComparedWithoutCaseAndSpaces(t *testing.T) {
	t.Parallel()
	for typed, want := range map[string]string{" Organic ": "organic", "Upper  VALLEY\t": "upper valley", "  ": ""} {
		require.Equal(t, want, stock.ClaimName(typed))
	}
}

func TestAClaimIsApprovedOnlyWhenDeclaredNotContradictedAndByAnotherPerson(t *testing.T) {
	t.Parallel()
	declared := &stock.Declared{Evidence: "OC-2231", Ticket: uuid.New()}
	approval := &stock.ClaimApproval{Ticket: declared.Ticket}
	withdrawn := &stock.ClaimApproval{Ticket: declared.Ticket, Withdrawn: &stock.Withdrawal{}}
	test := func(o stock.Outcome, by string) *stock.ClaimTest {
		return &stock.ClaimTest{Outcome: o, Recorder: by, Report: "R-7"}
	}
	for state, c := range map[string]stock.Claim{
		"NOT_DECLARED": {Tested: test(stock.Supports, "users/lead1")},
		"CONTRADICTED": {Declared: declared, Tested: test(stock.Contradicts, "users/lead1")},
		"APPROVED":     {Declared: declared, Approved: approval},
	} {
		c.Name = "organic"
		_, err := claimed(c).ApproveClaim("organic", "file 7", "users/office1", noon)
		var forbidden *stock.StateError
		require.ErrorAs(t, err, &forbidden, state)
		require.Equal(t, state, forbidden.State)
	}
	var same *stock.TesterError
	own := claimed(stock.Claim{Name: "organic", Declared: declared, Tested: test(stock.Supports, "users/office1")})
	_, err := own.ApproveClaim("organic", "file 7", "users/office1", noon)
	require.ErrorAs(t, err, &same)
	for name, c := range map[string]stock.Claim{
		"untested":          {Declared: declared},
		"tested by another": {Declared: declared, Tested: test(stock.Supports, "users/lead1")},
		"withdrawn":         {Declared: declared, Approved: withdrawn},
		"of another ticket": {Declared: declared, Approved: &stock.ClaimApproval{Ticket: uuid.New()}},
	} {
		require.False(t, c.Stands(), name)
		c.Name = "organic"
		got, err := claimed(c).ApproveClaim("organic", "file 7", "users/office1", noon)
		require.NoError(t, err, name)
		c.Approved = &got
		require.True(t, c.Stands(), name)
	}
}

func TestOnlyAnApprovalThatIsThereIsWithdrawn(t *testing.T) {
	t.Parallel()
	by := stock.Withdrawal{Withdrawer: "users/office1", Reason: "certificate lapsed", Time: noon}
	c := stock.Claim{Name: "organic", Declared: &stock.Declared{}, Approved: &stock.ClaimApproval{Evidence: "file 7"}}
	got, err := claimed(c).WithdrawClaim("organic", by)
	require.NoError(t, err)
	require.Equal(t, "file 7", got.Evidence)
	require.Equal(t, by, *got.Withdrawn)
	require.True(t, c.Stands(), "the record that was read is left alone")
	c.Approved = &got
	_, err = claimed(c).WithdrawClaim("organic", by)
	require.ErrorContains(t, err, "nobody approved it as organic")
	_, err = claimed(c).WithdrawClaim("raw", by)
	require.Error(t, err)
}

func TestALabelIsCertifiedByEveryBarrel(t *testing.T) {
	t.Parallel()
	good := claimed(stock.Claim{Name: "organic", Declared: &stock.Declared{}, Approved: &stock.ClaimApproval{}})
	var barrels []stock.Item
	for _, tag := range []string{"FC-9", "FC-3", "FC-5", "FC-4", "FC-8", "FC-6"} {
		barrels = append(barrels, stock.Item{DrumTag: tag})
	}
	require.NoError(t, stock.Certified("charges/1", "charge T-1-26-003", "labels/O", []string{"organic"}, []stock.Item{good, good}))
	require.NoError(t, stock.Certified("charges/1", "charge T-1-26-003", "labels/O", nil, barrels), "a label without claims asks for none")
	err := stock.Certified("charges/1", "charge T-1-26-003", "labels/O", []string{"organic"}, append(barrels, good))
	var unproved *stock.UnprovedError
	require.ErrorAs(t, err, &unproved)
	require.ErrorContains(t, err, `charge T-1-26-003 may not be packed as labels/O: "organic" stands approved for 1 of 7 barrels in it, not for FC-3, FC-4, FC-5, FC-6, FC-8 and 1 more`)
	require.Equal(t, "1", unproved.Metadata()["value"])
	require.Equal(t, "7", unproved.Metadata()["allowed"])
	require.Error(t, stock.Certified("charges/1", "charge T-1-26-003", "labels/O", []string{"organic", "raw"}, []stock.Item{good}))
}
