package rpc_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/rpctest"
)

func (d *dock) terms(login string, role accessv1.Role) intakev1.DockTermsServiceClient {
	return intakev1.NewDockTermsServiceClient(d.server.As(rpctest.Person(login, role)))
}

func TestWhoMayLayDownTerms(t *testing.T) {
	t.Parallel()
	rpctest.Matrix(t, start(t).server.Gateway(), intakev1.DockTermsService_ServiceDesc.ServiceName)
}

func TestAClassTareIsUsedWhileItIsInDate(t *testing.T) {
	t.Parallel()
	d := ready(t)
	office := d.terms("office1", accessv1.Role_ROLE_OFFICE)
	weigh := func(drum, tare string, change func(w *intakev1.WeighBarrelRequest)) (*intakev1.Barrel, error) {
		w := usual(d.open("M-0007"), drum)
		w.Tare, w.TareKind, w.Container = lb(tare), intakev1.TareKind_TARE_KIND_CLASS, intakev1.Container_CONTAINER_STEEL_CLOSED_HEAD
		if change != nil {
			change(w)
		}
		return d.clerk.WeighBarrel(t.Context(), w)
	}
	_, err := weigh("FC-00001", "42.0", nil)
	require.NoError(t, err, "a house that keeps no class tares binds nobody")

	set := &intakev1.SetClassTareRequest{
		RequestId: id(), Container: intakev1.Container_CONTAINER_STEEL_CLOSED_HEAD, Tare: lb("42.0"), SampleSize: 12, SampleDate: "2026-03-02",
		Note: "tare sheet 12",
	}
	recorded, err := office.SetClassTare(t.Context(), set)
	require.NoError(t, err)
	require.Equal(t, "2027-03-02", recorded.GetReviewDate())
	for field, change := range map[string]func(r *intakev1.SetClassTareRequest){
		"tare":        func(r *intakev1.SetClassTareRequest) { r.Tare = lb("0") },
		"sample_date": func(r *intakev1.SetClassTareRequest) { r.SampleDate = "2026-09-15" },
		"review_date": func(r *intakev1.SetClassTareRequest) { r.ReviewDate = "2026-03-02" },
	} {
		wrong := proto.CloneOf(set)
		wrong.RequestId = id()
		change(wrong)
		_, err := office.SetClassTare(t.Context(), wrong)
		rpctest.Faults(t, err, field)
	}

	barrel, err := weigh("FC-00002", "42.0", nil)
	require.NoError(t, err)
	require.Equal(t, intakev1.Container_CONTAINER_STEEL_CLOSED_HEAD, barrel.GetContainer())
	refused := func(drum, tare, message string, change func(w *intakev1.WeighBarrelRequest)) {
		t.Helper()
		_, err := weigh(drum, tare, change)
		got := rpctest.RefusedAs(t, err, errorv1.Reason_REASON_REASON_REQUIRED, nil)
		require.Equal(t, message+": check it, or say in reason why it is right", got.Message)
	}
	refused("FC-00003", "43.0", "the class tare of a 55-gallon steel drum with bung is 42.0 lb (12 weighed on 2026-03-02), but the tare says 43.0 lb", nil)
	refused("FC-00003", "42.0", "a class tare belongs to a type of container, and nobody said what this drum is",
		func(w *intakev1.WeighBarrelRequest) { w.Container = intakev1.Container_CONTAINER_UNSPECIFIED })
	refused("FC-00003", "42.0", "there is no class tare of a lined 55-gallon steel drum on record",
		func(w *intakev1.WeighBarrelRequest) { w.Container = intakev1.Container_CONTAINER_STEEL_LINED })
	d.register("FC-00004", intakev1.Container_CONTAINER_STEEL_OPEN_HEAD, "")
	_, err = weigh("FC-00004", "42.0", nil)
	rpctest.Faults(t, err, "container")

	warnings := func() []string {
		t.Helper()
		listed, err := d.terms("dock1", accessv1.Role_ROLE_DOCK).ListClassTares(t.Context(), &intakev1.ListClassTaresRequest{})
		require.NoError(t, err)
		require.Len(t, listed.GetClassTares(), 1)
		return listed.GetClassTares()[0].GetWarnings()
	}
	require.Empty(t, warnings())
	d.clock.Set(time.Date(2027, 2, 20, 15, 0, 0, 0, time.UTC))
	require.Equal(t, []string{"the class tare of a 55-gallon steel drum with bung lapses on 2027-03-02, in 10 days: weigh some empty ones and record a new one"}, warnings())
	d.clock.Set(time.Date(2027, 3, 2, 15, 0, 0, 0, time.UTC))
	_, err = weigh("FC-00005", "42.0", nil)
	require.NoError(t, err, "on its last day it is in date")
	d.clock.Set(time.Date(2027, 3, 3, 15, 0, 0, 0, time.UTC))
	require.Contains(t, warnings()[0], "lapsed on 2027-03-02")
	refused("FC-00006", "42.0", "the class tare of a 55-gallon steel drum with bung lapsed on 2027-03-02", nil)
	overridden, err := weigh("FC-00006", "42.0", func(w *intakev1.WeighBarrelRequest) { w.Reason = "scale for empties is out for service" })
	require.NoError(t, err)
	require.Equal(t, []string{"the class tare of a 55-gallon steel drum with bung lapsed on 2027-03-02"}, overridden.GetWarnings())
}

// What was charged for a container is given back for it, the oldest out first, whatever the deposit is by then.
func TestDepositsFollowTheContainers(t *testing.T) {
	t.Parallel()
	d := ready(t)
	office := d.terms("office1", accessv1.Role_ROLE_OFFICE)
	deposit := func(amount, from string) (*intakev1.ContainerDeposit, error) {
		return office.SetContainerDeposit(t.Context(), &intakev1.SetContainerDepositRequest{
			RequestId: id(), Container: intakev1.Container_CONTAINER_STEEL_CLOSED_HEAD, EffectiveDate: from, Note: "resolution 2026-14",
			Amount: &typev1.Money{Amount: amount, CurrencyCode: "USD"},
		})
	}
	_, err := deposit("20.00", "2026-09-13")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_OUT_OF_RANGE, map[string]string{"field": "effective_date"})
	_, err = deposit("-0.01", "")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_OUT_OF_RANGE, map[string]string{"field": "amount"})
	move := func(kind intakev1.ContainerMoveKind, count int32, deposit, stands string) {
		t.Helper()
		account, err := d.clerk.RecordContainerMove(t.Context(), &intakev1.RecordContainerMoveRequest{
			RequestId: id(), Member: "members/M-0007", Container: intakev1.Container_CONTAINER_STEEL_CLOSED_HEAD, Kind: kind, Count: count, Note: "truck",
		})
		require.NoError(t, err)
		require.Equal(t, deposit, account.GetMoves()[0].GetDeposit().GetAmount())
		require.Equal(t, "USD", account.GetMoves()[0].GetDeposit().GetCurrencyCode())
		require.Equal(t, stands, account.GetBalances()[0].GetDeposit().GetAmount())
		require.Equal(t, stands, account.GetDepositTotal().GetAmount())
		facts := d.facts()
		moved := payload[*intakev1.ContainersMoved](t, facts[len(facts)-1])
		require.Equal(t, deposit, moved.GetMove().GetDeposit().GetAmount())
		require.Equal(t, stands, moved.GetBalance().GetDeposit().GetAmount())
		require.Equal(t, stands, moved.GetDepositTotal().GetAmount())
	}
	const (
		out, full  = intakev1.ContainerMoveKind_CONTAINER_MOVE_KIND_GIVEN_OUT, intakev1.ContainerMoveKind_CONTAINER_MOVE_KIND_BACK_FULL
		empty, los = intakev1.ContainerMoveKind_CONTAINER_MOVE_KIND_BACK_EMPTY, intakev1.ContainerMoveKind_CONTAINER_MOVE_KIND_LOST
	)
	move(out, 3, "0.00", "0.00") // before any deposit was laid down
	_, err = deposit("25.00", "")
	require.NoError(t, err)
	_, err = deposit("30.50", "2026-09-20")
	require.NoError(t, err)
	move(out, 4, "100.00", "100.00")
	d.clock.Advance(7 * 24 * time.Hour)
	move(out, 2, "61.00", "161.00")
	move(full, 4, "-25.00", "136.00") // three without a deposit and one at 25.00
	move(los, 1, "0.00", "136.00")
	move(empty, 3, "-75.00", "61.00")
	move(full, 1, "-30.50", "30.50") // the last is the lost one, which stays charged
	listed, err := office.ListContainerDeposits(t.Context(), &intakev1.ListContainerDepositsRequest{})
	require.NoError(t, err)
	require.Len(t, listed.GetContainerDeposits(), 2)
	require.Equal(t, "30.50", listed.GetContainerDeposits()[0].GetAmount().GetAmount(), "newest date first")
}

func TestATicketSaysWhatCameAndHow(t *testing.T) {
	t.Parallel()
	d := ready(t)
	opened, err := d.clerk.OpenTicket(t.Context(), &intakev1.OpenTicketRequest{
		RequestId: id(), Member: "members/M-0007", CropYear: 2026, HarvestDeclared: true, Hauler: "the brother", Vehicle: "flatbed 41-XK",
		YardRegion: "north fork", Remarks: "two drums dented", Claims: []*intakev1.HoneyClaim{{Claim: "organic", Certificate: "OC-2231"}, {Claim: "raw"}},
	})
	require.NoError(t, err)
	d.register("FC-00442", intakev1.Container_CONTAINER_STEEL_LINED, "")
	part := usual(opened, "FC-00442")
	part.Gross, part.Part = lb("300.0"), true
	barrel, err := d.clerk.WeighBarrel(t.Context(), part)
	require.NoError(t, err)
	require.Equal(t, intakev1.Container_CONTAINER_STEEL_LINED, barrel.GetContainer())
	facts := d.facts()
	require.True(t, payload[*intakev1.BarrelWeighed](t, facts[len(facts)-1]).GetBarrel().GetPart(), "a neighbour knows of a part barrel")

	draw := &intakev1.DrawSampleRequest{RequestId: id(), Barrel: barrel.GetName(), Seals: []*intakev1.PortionSeal{
		{Portion: intakev1.Portion_PORTION_C, Seal: "S-103", ExpireDate: "2027-01-31"},
		{Portion: intakev1.Portion_PORTION_A, Seal: "S-101"},
		{Portion: intakev1.Portion_PORTION_B, Seal: "S-102"},
	}}
	twice := proto.CloneOf(draw)
	twice.RequestId, twice.Seals[1].Portion = id(), intakev1.Portion_PORTION_C
	_, err = d.clerk.DrawSample(t.Context(), twice)
	rpctest.Faults(t, err, "seals[1].portion")
	sampled, err := d.clerk.DrawSample(t.Context(), draw)
	require.NoError(t, err)
	require.Equal(t, "S-101", sampled.GetSeals()[0].GetSeal())
	require.Equal(t, "2027-09-14", sampled.GetSeals()[0].GetExpireDate())
	require.Equal(t, "2027-01-31", sampled.GetSeals()[2].GetExpireDate())
	custody, err := d.clerk.GetSampleCustody(t.Context(), &intakev1.GetSampleCustodyRequest{Sample: sampled.GetSample()})
	require.NoError(t, err)
	require.Len(t, custody.GetPortions(), 3)
	require.Equal(t, "dock", custody.GetPortions()[2].GetPlace())
	require.Equal(t, "S-103", custody.GetPortions()[2].GetSeal())

	end := closing(opened, 1)
	end.Driver = "R. Miller"
	closed, err := d.clerk.CloseTicket(t.Context(), end)
	require.NoError(t, err)
	require.True(t, proto.Equal(closed, d.ticket(opened.GetName())), "the answer is what is read later")
	require.Equal(t, "R. Miller", closed.GetDriver())
	require.Equal(t, "flatbed 41-XK", closed.GetVehicle())
	require.Equal(t, "OC-2231", closed.GetClaims()[0].GetCertificate())
	require.True(t, proto.Equal(sampled.GetSeals()[2], closed.GetBarrels()[0].GetSeals()[2]))

	reused := d.weigh(d.open("M-0008"), "FC-00443")
	_, err = d.clerk.DrawSample(t.Context(), &intakev1.DrawSampleRequest{
		RequestId: id(), Barrel: reused.GetName(), Seals: []*intakev1.PortionSeal{{Portion: intakev1.Portion_PORTION_A, Seal: "S-101"}},
	})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ALREADY_EXISTS, map[string]string{"resource": "seals/S-101"})
	require.Empty(t, d.barrel(reused.GetName()).GetSample(), "nothing was drawn either")
}

func TestPortionsWhoseTimeIsOver(t *testing.T) {
	t.Parallel()
	d := ready(t)
	d.app.Retention.A, d.app.Retention.C = 30, 60
	lab := d.as("lab1", accessv1.Role_ROLE_LAB)
	ticket := d.open("M-0007")
	seal := func(drum string, letters ...intakev1.Portion) string {
		t.Helper()
		req := &intakev1.DrawSampleRequest{RequestId: id(), Barrel: d.weigh(ticket, drum).GetName()}
		for _, p := range letters {
			req.Seals = append(req.Seals, &intakev1.PortionSeal{Portion: p, Seal: drum + p.String()})
		}
		sampled, err := d.clerk.DrawSample(t.Context(), req)
		require.NoError(t, err)
		return sampled.GetSample()
	}
	const a, b, c = intakev1.Portion_PORTION_A, intakev1.Portion_PORTION_B, intakev1.Portion_PORTION_C
	first, second := seal("FC-00001", a, b, c), seal("FC-00002", a, c)
	record := func(sample string, p intakev1.Portion, kind intakev1.CustodyKind, seal, expires string) {
		t.Helper()
		_, err := lab.RecordCustody(t.Context(), &intakev1.RecordCustodyRequest{
			RequestId: id(), Sample: sample, Portion: p, Kind: kind, Place: "dock", Seal: seal, ExpireDate: expires,
		})
		require.NoError(t, err)
	}
	due := func(date string) []string {
		t.Helper()
		var found []string
		req := &intakev1.ListPortionsDueRequest{DueDate: date, PageSize: 1}
		for {
			page, err := lab.ListPortionsDue(t.Context(), req)
			require.NoError(t, err)
			require.NotContains(t, page.String(), "M-0007")
			for _, p := range page.GetPortions() {
				found = append(found, p.GetExpireDate()+" "+p.GetSample()+" "+p.GetPortion().String()[len("PORTION_"):])
			}
			if req.PageToken = page.GetNextPageToken(); req.GetPageToken() == "" {
				return found
			}
		}
	}
	require.Empty(t, due("2026-10-13"))
	require.ElementsMatch(t, []string{"2026-10-14 " + first + " A", "2026-10-14 " + second + " A"}, due("2026-10-14"))
	record(first, a, intakev1.CustodyKind_CUSTODY_KIND_DISCARDED, "", "")
	// Opened for an appeal and sealed again, it is kept for longer.
	record(second, a, intakev1.CustodyKind_CUSTODY_KIND_OPENED, "", "")
	record(second, a, intakev1.CustodyKind_CUSTODY_KIND_SEALED, "again", "2026-12-31")
	require.Empty(t, due("2026-10-14"))
	require.Len(t, due("2026-11-13"), 2)
	d.clock.Set(time.Date(2026, 12, 31, 18, 0, 0, 0, time.UTC))
	require.Equal(t, "2026-12-31 "+second+" A", due("")[2], "today unless another date is said")
	require.Len(t, due("2027-09-14"), 4, "and portion B in the end")
	_, err := lab.ListPortionsDue(t.Context(), &intakev1.ListPortionsDueRequest{DueDate: "2026-02-30"})
	rpctest.Faults(t, err, "due_date")
}
