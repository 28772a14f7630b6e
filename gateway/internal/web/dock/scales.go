package dock

import (
	"net/http"
	"strconv"

	"barrelhead.example/gateway/internal/web/site"
	"barrelhead.example/gateway/internal/wording"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

func (s room) scales(v *site.Visit) (site.View, error) {
	scales, err := s.scaleViews(v)
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "scales", Title: "Scales", Data: map[string]any{
		"Scales": scales, "MayCheck": v.MayCall(checkScale), "MayAdd": v.MayCall(createScale),
	}}, nil
}

// mostLoads is how many weights one check of the page takes.
const mostLoads = 4

// checkScale tries a scale against known weights.
func (s room) checkScale(v *site.Visit) (site.View, error) {
	f := v.Form()
	f.Set("zero_indication", "0.0")
	name := "scales/" + v.PathValue("id")
	if v.Posted {
		check, err := s.Intake.RecordScaleCheck(v.Ctx, s.typedCheck(f, name))
		if err == nil {
			return site.View{Page: "checked", Title: "Scale " + site.IDOf(name), Status: http.StatusOK, Data: map[string]any{"Check": check, "Scale": name}}, nil
		}
		if !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	rows := make([]string, mostLoads)
	for i := range rows {
		rows[i] = strconv.Itoa(i + 1)
	}
	return site.View{Page: "check", Title: "Check scale " + site.IDOf(name), Data: map[string]any{
		"Form": f, "Scale": name, "Rows": rows, "Unit": wording.Words(s.Cooperative.Unit),
	}}, nil
}

func (s room) typedCheck(f *site.Form, scale string) *intakev1.RecordScaleCheckRequest {
	req := &intakev1.RecordScaleCheckRequest{
		RequestId: f.RequestID, Scale: scale, ZeroIndication: s.TypedMass(f.Value("zero_indication")),
		ToleranceKind: intakev1.ToleranceKind_TOLERANCE_KIND_MAINTENANCE,
	}
	if f.Value("sealed") != "" {
		req.ToleranceKind = intakev1.ToleranceKind_TOLERANCE_KIND_ACCEPTANCE
	}
	for i := 1; i <= mostLoads; i++ {
		n := strconv.Itoa(i)
		if f.Value("known_"+n) == "" && f.Value("indication_"+n) == "" {
			continue
		}
		f.InRow("loads", "weight "+n, "_"+n)
		req.Loads = append(req.Loads, &intakev1.CheckLoad{
			WeightId: f.Value("weight_id_" + n), Known: s.TypedMass(f.Value("known_" + n)), Indication: s.TypedMass(f.Value("indication_" + n)),
		})
	}
	return req
}

// newScale enters a scale.
func (s room) newScale(v *site.Visit) (site.View, error) {
	f := v.Form()
	if v.Posted {
		_, err := s.Intake.CreateScale(v.Ctx, &intakev1.CreateScaleRequest{
			RequestId: f.RequestID, ScaleId: f.Value("scale_id"), Scale: &intakev1.Scale{
				Description: f.Value("description"), Division: s.TypedMass(f.Value("division")), Capacity: s.TypedMass(f.Value("capacity")),
				AccuracyClass: intakev1.AccuracyClass(intakev1.AccuracyClass_value["ACCURACY_CLASS_"+f.Value("accuracy_class")]),
				Seal:          f.Value("seal"), CertificateExpireDate: f.Value("certificate_expire_date"),
			},
		})
		if err == nil {
			return site.View{GoTo: "/scales"}, nil
		}
		if !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	f.Set("accuracy_class", "III")
	return site.View{Page: "newscale", Title: "New scale", Data: map[string]any{"Form": f, "Unit": wording.Words(s.Cooperative.Unit)}}, nil
}
