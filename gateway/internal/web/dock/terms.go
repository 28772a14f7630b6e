package dock

import (
	"strconv"

	"barrelhead.example/gateway/internal/web/site"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

// The RPCs behind the pages of what the office lays down for the dock.
const (
	setClassTare   = intakev1.DockTermsService_SetClassTare_FullMethodName
	listClassTares = intakev1.DockTermsService_ListClassTares_FullMethodName
	setDeposit     = intakev1.DockTermsService_SetContainerDeposit_FullMethodName
	listDeposits   = intakev1.DockTermsService_ListContainerDeposits_FullMethodName
)

// dockTerms are the class tares in force and the deposits ever laid down.
func (s room) dockTerms(v *site.Visit) (site.View, error) {
	tares, err := s.Terms.ListClassTares(v.Ctx, &intakev1.ListClassTaresRequest{})
	if err != nil {
		return site.View{}, err
	}
	deposits, err := s.Terms.ListContainerDeposits(v.Ctx, &intakev1.ListContainerDepositsRequest{})
	if err != nil {
		return site.View{}, err
	}
	warnings := 0
	for _, t := range tares.GetClassTares() {
		warnings += len(t.GetWarnings())
	}
	return site.View{Page: "dockterms", Title: "Class tares and deposits", Data: map[string]any{
		"Tares": tares.GetClassTares(), "Deposits": deposits.GetContainerDeposits(), "Warnings": warnings, "MayTare": v.MayCall(setClassTare), "MayDeposit": v.MayCall(setDeposit),
	}}, nil
}

func typedContainer(f *site.Form) intakev1.Container {
	return intakev1.Container(intakev1.Container_value["CONTAINER_"+f.Value("container")])
}

func (s room) newClassTare(v *site.Visit) (site.View, error) {
	f := v.Form()
	return s.PlainTask(v, f, "newclasstare", "Class tare", map[string]any{"Containers": containerOptions}, func() (string, error) {
		size, _ := strconv.ParseInt(f.Value("sample_size"), 10, 32) // what is no number is refused by its range
		_, err := s.Terms.SetClassTare(v.Ctx, &intakev1.SetClassTareRequest{
			RequestId: f.RequestID, Container: typedContainer(f), Tare: s.MassOr(f.Value("tare")), SampleSize: int32(size),
			SampleDate: f.Value("sample_date"), ReviewDate: f.Value("review_date"), Note: f.Value("note"),
		})
		return "/dock-terms", err
	})
}

func (s room) newDeposit(v *site.Visit) (site.View, error) {
	f := v.Form()
	return s.PlainTask(v, f, "newdeposit", "Container deposit", map[string]any{"Containers": containerOptions}, func() (string, error) {
		_, err := s.Terms.SetContainerDeposit(v.Ctx, &intakev1.SetContainerDepositRequest{
			RequestId: f.RequestID, Container: typedContainer(f), Amount: s.TypedMoney(f.Value("amount")), EffectiveDate: f.Value("effective_date"), Note: f.Value("note"),
		})
		return "/dock-terms", err
	})
}
