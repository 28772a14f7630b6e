package web

import (
	"strconv"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

// The RPCs behind the pages of containers members have out.
const (
	containerAccount = intakev1.IntakeService_GetContainerAccount_FullMethodName
	moveContainers   = intakev1.IntakeService_RecordContainerMove_FullMethodName
)

var containerMoves = newOptions("GIVEN_OUT", "given out empty", "BACK_FULL", "back with honey", "BACK_EMPTY", "back empty", "LOST", "lost or broken")

// ownContainers is the reader's own account; whoever sees every member's says whose.
func (s *site) ownContainers(v *visit) (view, error) {
	if v.onlyMember() {
		return view{goTo: "/" + v.who.Member + "/containers"}, nil
	}
	f := v.form()
	if member := memberName(f.Value("member")); member != "" {
		return view{goTo: "/" + member + "/containers"}, nil
	}
	d := map[string]any{"Form": f}
	if v.mayCall(listMembers) {
		found, err := s.intake.ListMembers(v.ctx, &intakev1.ListMembersRequest{PageSize: 1000})
		if err != nil {
			return view{}, err
		}
		d["Members"] = found.GetMembers()
	}
	return view{page: "containersof", title: "Containers", data: d}, nil
}

// containers are what one member has out, and every time one went or came.
func (s *site) containers(v *visit) (view, error) {
	member := "members/" + v.PathValue("number")
	found, err := s.intake.GetContainerAccount(v.ctx, &intakev1.GetContainerAccountRequest{Member: member})
	if err != nil {
		return view{}, err
	}
	var out, lost int64
	for _, b := range found.GetBalances() {
		out += b.GetBalance()
		lost += b.GetLost()
	}
	own, _ := v.backTo(member)
	return view{page: "containers", title: "Containers of " + idOf(member), data: map[string]any{
		"Member": member, "Account": found, "Out": out, "Lost": lost, "Deposit": found.GetDepositTotal() != nil, "Own": own, "MayMove": v.mayCall(moveContainers), "MayTotal": v.mayCall(getTotal),
	}}, nil
}

func (s *site) moveContainer(v *visit) (view, error) {
	f := v.form()
	f.set("container", "STEEL_CLOSED_HEAD")
	member := "members/" + v.PathValue("number")
	return s.plainTask(v, f, "movecontainers", "Containers of "+idOf(member), map[string]any{"Member": member, "Containers": containerOptions, "Moves": containerMoves}, func() (string, error) {
		count, _ := strconv.ParseInt(f.Value("count"), 10, 32) // what is no number is refused by its range
		_, err := s.intake.RecordContainerMove(v.ctx, &intakev1.RecordContainerMoveRequest{
			RequestId: f.RequestID, Member: member, Count: int32(count), Note: f.Value("note"),
			Container: intakev1.Container(intakev1.Container_value["CONTAINER_"+f.Value("container")]),
			Kind:      intakev1.ContainerMoveKind(intakev1.ContainerMoveKind_value["CONTAINER_MOVE_KIND_"+f.Value("kind")]),
		})
		return "/" + member + "/containers", err
	})
}
