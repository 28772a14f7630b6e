package message

import (
	"google.golang.org/protobuf/types/known/timestamppb"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/domain"
)

// Appeal is one appeal as far as it has come.
func Appeal(a *domain.Appeal) *gradingv1.Appeal {
	out := &gradingv1.Appeal{
		Name: a.Name(), Certificate: domain.CertificateName(a.Certificate), Sample: domain.SampleName(a.Sample), Factor: Factor(a.Factor),
		Stage:  gradingv1.AppealStage(gradingv1.AppealStage_value["APPEAL_STAGE_"+string(a.Stage)]),
		State:  gradingv1.AppealState(gradingv1.AppealState_value["APPEAL_STATE_"+a.State()]),
		Fee:    gradingv1.AppealFee(gradingv1.AppealFee_value["APPEAL_FEE_"+a.Fee()]),
		Reason: a.Reason, Opener: a.Opener, OpenTime: timestamppb.New(a.Time),
	}
	if r := a.Reading; r != nil {
		out.MeasuredValue, out.Analyst, out.Laboratory = a.Factor.Format(r.Reported), r.Analyst, r.Laboratory
	}
	if d := a.Decision; d != nil {
		out.Upheld, out.Decider, out.DecideTime, out.Explanation = d.Upheld, d.Decider, timestamppb.New(d.Time), d.Explanation
		out.NewCertificate = named("certificates/", d.NewCertificate)
	}
	return out
}
