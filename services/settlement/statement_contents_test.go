package settlement_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/rpctest"
	"barrelhead.example/services/settlement"
	"barrelhead.example/services/settlement/internal/domain"
)

func (m *market) statement(number string) *settlementv1.Statement {
	s, err := m.as(rpctest.Member(number)).GetStatement(m.t.Context(), statementOf(number))
	require.NoError(m.t, err)
	return s
}

// The office moves; what was printed before is as genuine as it was.
func TestTheStatementSaysHowToReachTheOffice(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	before := m.print("M-0001")
	require.Nil(t, m.statement("M-0001").GetContact())
	require.NotContains(t, pdfText(t, before.GetContent()), "reach the office")
	m.app.Contact = domain.Contact{Telephone: "555-0142"}
	only := pdfInOrder(t, m.print("M-0001").GetContent())
	require.Contains(t, only, "How to reach the office By telephone: 555-0142 The national")
	m.app.Contact = domain.Contact{PostalAddress: "14 Mill Road, Fallow Creek", Telephone: "555-0142", Email: "office@fallowcreek.example"}
	after := m.print("M-0001")
	require.Contains(t, pdfInOrder(t, after.GetContent()),
		"How to reach the office By post: 14 Mill Road, Fallow Creek By telephone: 555-0142 By mail: office@fallowcreek.example")
	require.Equal(t, "office@fallowcreek.example", m.statement("M-0001").GetContact().GetEmail())
	require.Equal(t, before.GetVerificationCode(), after.GetVerificationCode())
	require.False(t, m.isGenuine(before.GetVerificationCode()).GetSuperseded())
}

func TestTheContactOfTheOfficeIsChecked(t *testing.T) {
	t.Parallel()
	require.Empty(t, settlement.House{}.Check())
	faults := settlement.House{Contact: settlement.Contact{PostalAddress: strings.Repeat("é", 91), Telephone: "555-0142\n555-0143", Email: "office at fallowcreek"}}.Check()
	require.Len(t, faults, 3)
	for i, path := range []string{"contact.postal_address", "contact.telephone", "contact.email"} {
		require.Equal(t, path, faults[i].Path)
	}
	require.Empty(t, settlement.House{Contact: settlement.Contact{PostalAddress: strings.Repeat("é", 90), Email: "office@fallowcreek.example"}}.Check())
}

// Four members are too few for any comparison, five are enough.
func TestTheAverageGradeNeedsFiveMembers(t *testing.T) {
	t.Parallel()
	for members, want := range map[int]string{4: "", 5: "A"} {
		m := openMarket(t)
		for i := 3; i <= members; i++ {
			number, tag := fmt.Sprintf("M-%04d", i), fmt.Sprintf("FC-7%d", i)
			m.take(member(number, "Yard "+tag))
			m.take(sampled(tag))
			m.take(closed(ticket("T-"+tag, number, barrelOf{tag, "1280.0", "clover"})))
			m.take(graded(tag, 1, "17.0", "LIGHT_AMBER", "A"))
		}
		m.sells("9000.00")
		m.settled()
		p := m.statement("M-0002").GetPools()[0]
		require.Equal(t, want, p.GetAverageGrade(), "%d members", members)
		text := pdfInOrder(t, m.print("M-0002").GetContent())
		if want == "" {
			require.Empty(t, p.GetAverageColorClass())
			require.NotContains(t, text, "On average it was")
			continue
		}
		// 1,282.5 lb white, 635.6 extra light amber, 640.2 and three times 1,280.0 light amber.
		require.Equal(t, "LIGHT_AMBER", p.GetAverageColorClass())
		require.Contains(t, text, "On average it was grade A and light amber: half of the weight is that good or better, and half that light or lighter.")
	}
}

// Without a trial run nothing is said; with one, what is credited by now is set against what it came to.
func TestTheStatementSaysHowMuchOfTheEstimateIsCredited(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.sells("3200.00")
	before := m.statement("M-0002")
	require.Empty(t, before.GetEstimates())
	run := m.prepare()
	s := m.statement("M-0002")
	require.Equal(t, before.GetVerificationCode(), s.GetVerificationCode(), "an estimate changes by the day")
	e := s.GetEstimates()[0]
	require.Equal(t, []string{"Table honey 2026", run.GetNumber(), "2026-09-20"}, []string{e.GetTitle(), e.GetRunNumber(), e.GetRunDate()})
	// (3,200.00 − 1,282.5 × 0.05 + 640.2 × 0.12) ÷ 2,558.3 = 1.2557…, and 0.05 more for white: 640.0 × 1.3057… = 835.71.
	require.Equal(t, []string{"736.00", "835.71", "88.0"}, []string{e.GetCredited().GetAmount(), e.GetValue().GetAmount(), e.GetCreditedPercent()})
	text := pdfInOrder(t, m.print("M-0002").GetContent())
	for _, want := range []string{"Pool Table honey 2026, still open", "88.0 % of the estimated value of your honey is credited", "Estimated value by trial run " + run.GetNumber() + " of 2026-09-20 835.71 USD"} {
		require.Contains(t, text, want)
	}

	_, err := m.adopts(board, m.proposes("0.10"))
	require.NoError(t, err)
	e = m.statement("M-0002").GetEstimates()[0]
	require.Equal(t, []string{"800.00", "95.7"}, []string{e.GetCredited().GetAmount(), e.GetCreditedPercent()}, "64.00 more, by the same run")
	m.take(graded("FC-4", 2, "17.0", "DARK_AMBER", "A"))
	require.Empty(t, m.statement("M-0002").GetEstimates(), "what waits for a price is no part of it")
	m.take(graded("FC-4", 3, "17.0", "WHITE", "A"))
	m.settled()
	require.Empty(t, m.statement("M-0002").GetEstimates(), "the pool is closed")
	require.Len(t, m.statement("M-0002").GetPools(), 1)
}
