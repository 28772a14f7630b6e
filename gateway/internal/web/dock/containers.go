package dock

import (
	"strconv"

	"barrelhead.example/gateway/internal/web/site"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

// The RPCs behind the pages of containers members have out.
const (
	containerAccount = intakev1.IntakeService_GetContainerAccount_FullMethodName
	moveContainers   = intakev1.IntakeService_RecordContainerMove_FullMethodName
)

var containerMoves = site.NewOptions("GIVEN_OUT", "given out empty", "BACK_FULL", "back with honey", "BACK_EMPTY", "back empty", "LOST", "lost or broken")

// ownContainers is the reader's own account; whoever sees every member's says whose.
func (s room) ownContainers(v *site.Visit) (site.View, error) {
	if v.OnlyMember() {
		return site.View{GoTo: "/" + v.Who.Member + "/containers"}, nil
	}
	f := v.Form()
	if member := site.MemberName(f.Value("member")); member != "" {
		return site.View{GoTo: "/" + member + "/containers"}, nil
	}
	d := map[string]any{"Form": f}
	if v.MayCall(listMembers) {
		found, err := s.Intake.ListMembers(v.Ctx, &intakev1.ListMembersRequest{PageSize: 1000})
		if err != nil {
			return site.View{}, err
		}
		d["Members"] = found.GetMembers()
	}
	return site.View{Page: "containersof", Title: "Containers", Data: d}, nil
}

// containers are what one member has out, and every time one went or came.
func (s room) containers(v *site.Visit) (site.View, error) {
	member := "members/" + v.PathValue("number")
	found, err := s.Intake.GetContainerAccount(v.Ctx, &intakev1.GetContainerAccountRequest{Member: member})
	if err != nil {
		return site.View{}, err
	}
	var out, lost int64
	for _, b := range found.GetBalances() {
		out += b.GetBalance()
		lost += b.GetLost()
	}
	own, _ := v.BackTo(member)
	return site.View{Page: "containers", Title: "Containers of " + site.IDOf(member), Data: map[string]any{
		"Member": member, "Account": found, "Out": out, "Lost": lost, "Deposit": found.GetDepositTotal() != nil, "Own": own, "MayMove": v.MayCall(moveContainers), "MayTotal": v.MayCall(getTotal),
	}}, nil
}

func (s room) moveContainer(v *site.Visit) (site.View, error) {
	f := v.Form()
	f.Set("container", "STEEL_CLOSED_HEAD")
	member := "members/" + v.PathValue("number")
	return s.PlainTask(v, f, "movecontainers", "Containers of "+site.IDOf(member), map[string]any{"Member": member, "Containers": containerOptions, "Moves": containerMoves}, func() (string, error) {
		count, _ := strconv.ParseInt(f.Value("count"), 10, 32) // what is no number is refused by its range
		_, err := s.Intake.RecordContainerMove(v.Ctx, &intakev1.RecordContainerMoveRequest{
			RequestId: f.RequestID, Member: member, Count: int32(count), Note: f.Value("note"),
			Container: intakev1.Container(intakev1.Container_value["CONTAINER_"+f.Value("container")]),
			Kind:      intakev1.ContainerMoveKind(intakev1.ContainerMoveKind_value["CONTAINER_MOVE_KIND_"+f.Value("kind")]),
		})
		return "/" + member + "/containers", err
	})
}
