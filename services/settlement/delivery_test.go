package settlement_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/types/known/timestamppb"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/rpctest"
)

// weighedTicket is a ticket that says what was on the scale.
func weighedTicket(number, owner string, barrels ...barrelOf) *intakev1.Ticket {
	t := ticket(number, owner, barrels...)
	for _, b := range t.GetBarrels() {
		b.Gross, b.Tare = lb("686.0"), lb("46.0")
	}
	return t
}

func delivery(s *settlementv1.Statement, tag string) *settlementv1.StatementDelivery {
	for _, d := range s.GetDeliveries() {
		if d.GetDrumTag() == tag {
			return d
		}
	}
	return nil
}

func TestStatementShowsGrossTareAndNet(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	shared := weighedTicket("FC-2026-000005", "M-0001", barrelOf{"FC-20", "640.0", "clover"})
	shared.Owners = []*intakev1.OwnerShare{{Member: "members/M-0001", SharePercent: "40"}, {Member: "members/M-0002", SharePercent: "60"}}
	m.take(closed(weighedTicket("FC-2026-000004", "M-0001", barrelOf{"FC-10", "640.0", "clover"}, barrelOf{"FC-11", "640.0", "clover"})))
	m.take(closed(shared))
	for _, tag := range []string{"FC-10", "FC-20"} {
		m.take(sampled(tag))
		m.take(graded(tag, 1, "19.2", "WHITE", "A"))
	}
	m.take(&intakev1.BarrelReweighed{Reweigh: &intakev1.Reweigh{
		Name: "reweighs/1", Barrel: "barrels/" + made("FC-10"), PreviousGross: lb("686.0"), Gross: lb("685.0"), Net: lb("639.0"), NetCorrection: lb("-1.0"),
	}})
	s, err := m.as(rpctest.Member("M-0001")).GetStatement(t.Context(), statementOf("M-0001"))
	require.NoError(t, err)
	require.Len(t, s.GetDeliveries(), 6)
	old := delivery(s, "FC-1")
	require.Nil(t, old.GetGross(), "only its net weight is known")
	require.Equal(t, "642.5", old.GetNet().GetValue())
	again := delivery(s, "FC-10")
	require.Equal(t, []string{"686.0", "46.0", "640.0", "639.0", "634.3"}, []string{
		again.GetGross().GetValue(), again.GetTare().GetValue(), again.GetNet().GetValue(), again.GetCountedNet().GetValue(), again.GetPayable().GetValue(),
	})
	require.Contains(t, again.GetCorrection(), "weighed again")
	require.Equal(t, []string{"19.2", "WHITE", "A", "G-FC-10-1"}, []string{again.GetMoisturePercent(), again.GetColorClass(), again.GetGrade(), again.GetCertificateNumber()})
	require.NotEmpty(t, again.GetReadings())
	waits := delivery(s, "FC-11")
	require.Nil(t, waits.GetPayable())
	require.Empty(t, waits.GetGrade())
	part := delivery(s, "FC-20")
	require.Equal(t, []string{"40", "640.0", "254.12"}, []string{part.GetSharePercent(), part.GetNet().GetValue(), part.GetPayable().GetValue()})
	require.Equal(t, s.GetTotal().GetNetAmount().GetAmount(), s.GetAdvances().GetAmount())
	doc, err := m.as(rpctest.Member("M-0001")).RenderStatement(t.Context(), &settlementv1.RenderStatementRequest{Member: "members/M-0001", CropYear: 2026})
	require.NoError(t, err)
	text := pdfText(t, doc.GetContent())
	for _, want := range []string{
		"Delivered Ticket Barrel Gross Tare Net Water % Colour, grade Paid", "2026-09-14 FC-2026-000004 FC-10 686.0 46.0 640.0 19.2 white, A 634.3",
		"2026-09-14 FC-2026-000001 FC-1 – – 642.5 17.4 white, A 642.5", "Barrel FC-20: your part is 40 %",
	} {
		require.Contains(t, text, want)
	}

	m.take(&intakev1.TicketReissued{
		OldTicket: ticket("FC-2026-000004", "M-0001"),
		NewTicket: weighedTicket("FC-2026-000006", "M-0002", barrelOf{"FC-10", "640.0", "clover"}, barrelOf{"FC-11", "640.0", "clover"}),
	})
	s, err = m.as(rpctest.Member("M-0001")).GetStatement(t.Context(), statementOf("M-0001"))
	require.NoError(t, err)
	gone := delivery(s, "FC-10")
	require.True(t, gone.GetWithdrawn())
	require.Equal(t, "FC-2026-000004", gone.GetTicketNumber(), "nothing is told of the ticket it is on now")
	require.Nil(t, gone.GetPayable())
	require.Nil(t, delivery(s, "FC-11"), "never credited, and not this member's")
	other, err := m.as(rpctest.Member("M-0002")).GetStatement(t.Context(), statementOf("M-0002"))
	require.NoError(t, err)
	require.Equal(t, "634.3", delivery(other, "FC-10").GetPayable().GetValue())
}

func TestStatementShowsContainersOut(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	moved := func(out, back, lost int64, deposit, change string) {
		m.take(&intakev1.ContainersMoved{
			Move: &intakev1.ContainerMove{
				Name: "members/M-0001/containerMoves/" + deposit, Member: "members/M-0001", Container: intakev1.Container_CONTAINER_STEEL_OPEN_HEAD,
				Kind: intakev1.ContainerMoveKind_CONTAINER_MOVE_KIND_GIVEN_OUT, Count: 1, Recorder: "users/dock1", MoveTime: timestamppb.New(harvest), Deposit: usd(change),
			},
			Balance: &intakev1.ContainerBalance{
				Container: intakev1.Container_CONTAINER_STEEL_OPEN_HEAD, GivenOut: out, BackFull: back, Lost: lost, Balance: out - back, Deposit: usd(deposit),
			},
		})
	}
	moved(12, 0, 0, "300.00", "300.00")
	moved(12, 5, 1, "175.00", "-125.00")
	s, err := m.as(rpctest.Member("M-0001")).GetStatement(t.Context(), statementOf("M-0001"))
	require.NoError(t, err)
	require.Len(t, s.GetContainers(), 1)
	c := s.GetContainers()[0]
	require.Equal(t, "steel open head", c.GetContainer())
	require.Equal(t, []int64{12, 5, 1, 7}, []int64{c.GetGivenOut(), c.GetCameBack(), c.GetLost(), c.GetOut()})
	require.Equal(t, "175.00", c.GetDeposit().GetAmount())
	require.Equal(t, "175.00", s.GetContainerDeposits().GetAmount())
	doc, err := m.as(rpctest.Member("M-0001")).RenderStatement(t.Context(), &settlementv1.RenderStatementRequest{Member: "members/M-0001", CropYear: 2026})
	require.NoError(t, err)
	require.Contains(t, pdfText(t, doc.GetContent()), "Steel open head: 7 out (12 handed out, 5 came back); 1 said to be lost 175.00 USD Deposits on them 175.00 USD")
	other, err := m.as(rpctest.Member("M-0002")).GetStatement(t.Context(), statementOf("M-0002"))
	require.NoError(t, err)
	require.Empty(t, other.GetContainers())
}

// containersOut says how many containers of a member are out, none with a deposit.
func containersOut(number string, out int64) *intakev1.ContainersMoved {
	return &intakev1.ContainersMoved{
		Move: &intakev1.ContainerMove{
			Name: "members/" + number + "/containerMoves/1", Member: "members/" + number, Container: intakev1.Container_CONTAINER_PAIL,
			Kind: intakev1.ContainerMoveKind_CONTAINER_MOVE_KIND_GIVEN_OUT, Count: int32(out), Recorder: "users/dock1", MoveTime: timestamppb.New(harvest),
		},
		Balance: &intakev1.ContainerBalance{Container: intakev1.Container_CONTAINER_PAIL, GivenOut: out, Balance: out},
	}
}
