package web

import (
	"strconv"

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
func (s *site) dockTerms(v *visit) (view, error) {
	tares, err := s.terms.ListClassTares(v.ctx, &intakev1.ListClassTaresRequest{})
	if err != nil {
		return view{}, err
	}
	deposits, err := s.terms.ListContainerDeposits(v.ctx, &intakev1.ListContainerDepositsRequest{})
	if err != nil {
		return view{}, err
	}
	warnings := 0
	for _, t := range tares.GetClassTares() {
		warnings += len(t.GetWarnings())
	}
	return view{page: "dockterms", title: "Class tares and deposits", data: map[string]any{
		"Tares": tares.GetClassTares(), "Deposits": deposits.GetContainerDeposits(), "Warnings": warnings, "MayTare": v.mayCall(setClassTare), "MayDeposit": v.mayCall(setDeposit),
	}}, nil
}

func typedContainer(f *form) intakev1.Container {
	return intakev1.Container(intakev1.Container_value["CONTAINER_"+f.Value("container")])
}

func (s *site) newClassTare(v *visit) (view, error) {
	f := v.form()
	return s.plainTask(v, f, "newclasstare", "Class tare", map[string]any{"Containers": containerOptions}, func() (string, error) {
		size, _ := strconv.ParseInt(f.Value("sample_size"), 10, 32) // what is no number is refused by its range
		_, err := s.terms.SetClassTare(v.ctx, &intakev1.SetClassTareRequest{
			RequestId: f.RequestID, Container: typedContainer(f), Tare: s.massOr(f.Value("tare")), SampleSize: int32(size),
			SampleDate: f.Value("sample_date"), ReviewDate: f.Value("review_date"), Note: f.Value("note"),
		})
		return "/dock-terms", err
	})
}

func (s *site) newDeposit(v *visit) (view, error) {
	f := v.form()
	return s.plainTask(v, f, "newdeposit", "Container deposit", map[string]any{"Containers": containerOptions}, func() (string, error) {
		_, err := s.terms.SetContainerDeposit(v.ctx, &intakev1.SetContainerDepositRequest{
			RequestId: f.RequestID, Container: typedContainer(f), Amount: s.typedMoney(f.Value("amount")), EffectiveDate: f.Value("effective_date"), Note: f.Value("note"),
		})
		return "/dock-terms", err
	})
}
