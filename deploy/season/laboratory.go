package season

import (
	"context"
	"fmt"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
)

// appeal asks for a second look at the water of a certificate: another technician measures, the lead decides. Only more
// than two readings of the same honey may differ by counts, so one of the season's appeals is won and one is lost.
func (c *Crew) appeal(ctx context.Context, d Delivery, b Barrel, certificate string) error {
	var appeal gradingv1.Appeal
	if err := c.sessions["office"].Post(ctx, "/v1/"+certificate+":appeal", &gradingv1.OpenAppealRequest{
		RequestId: c.id(d, "appeal", certificate), Certificate: certificate, Factor: gradingv1.Factor_FACTOR_MOISTURE,
		Stage: gradingv1.AppealStage_APPEAL_STAGE_RETEST, Reason: "drier by our own instrument",
	}, &appeal); err != nil {
		return err
	}
	if err := c.sessions["lab2"].Post(ctx, "/v1/"+appeal.GetName()+":measure", &gradingv1.RecordAppealReadingRequest{
		RequestId: c.id(d, "second look", certificate), Appeal: appeal.GetName(),
		Kind: gradingv1.ReadingKind_READING_KIND_MOISTURE_PERCENT, RawValue: b.SecondLook, Instrument: "MP-2",
	}, &gradingv1.Appeal{}); err != nil {
		return err
	}
	return c.sessions["lead"].Post(ctx, "/v1/"+appeal.GetName()+":decide", &gradingv1.DecideAppealRequest{
		RequestId: c.id(d, "decide", certificate), Appeal: appeal.GetName(),
	}, &gradingv1.Appeal{})
}

// screened is the source whose first barrels are screened for residues together, and for what.
const (
	screened = "clover"
	analyte  = "TETRACYCLINES"
	lab      = "Valley Reference Laboratory"
	// mostScreened is how many samples go into the composite at most.
	mostScreened = 20
)

// ScreenResidues has an outside laboratory screen a composite of the first barrels. It is over what the house accepts, so
// every barrel is held and tested singly: all are cleared but one. Called again it finds all of it done.
func (c *Crew) ScreenResidues(ctx context.Context) error {
	samples := c.screen[:min(len(c.screen), mostScreened)]
	if len(samples) < 2 {
		return nil
	}
	var composite gradingv1.Composite
	if err := c.sessions["lead"].Post(ctx, "/v1/composites", &gradingv1.CreateCompositeRequest{
		RequestId: RequestID(c.Season.CropYear, "composite", samples), Samples: samples, GramsEach: "25",
	}, &composite); err != nil {
		return err
	}
	if err := c.keyTwice(ctx, composite.GetSample(), "140", "R-1"); err != nil {
		return err
	}
	for i, sample := range samples {
		value := "<5"
		if i == 0 {
			value = "260"
		}
		if err := c.keyTwice(ctx, sample, value, fmt.Sprintf("R-1.%d", i+1)); err != nil {
			return err
		}
	}
	return nil
}

// keyTwice enters what the outside laboratory found, twice, by two people.
func (c *Crew) keyTwice(ctx context.Context, sample, value, report string) error {
	var result gradingv1.OutsideResult
	if err := c.sessions["lab"].Post(ctx, "/v1/"+sample+"/outsideResults", &gradingv1.KeyOutsideResultRequest{
		RequestId: RequestID(c.Season.CropYear, "key", sample, report), Sample: sample, Analyte: analyte, Value: value, Laboratory: lab, Report: report,
	}, &result); err != nil {
		return err
	}
	return c.sessions["lab2"].Post(ctx, "/v1/"+result.GetName()+":confirm", &gradingv1.ConfirmOutsideResultRequest{
		RequestId: RequestID(c.Season.CropYear, "confirm", sample, report), Name: result.GetName(), Value: value,
	}, &gradingv1.OutsideResult{})
}
