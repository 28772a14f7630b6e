package web

import (
	"net/http"
	"strconv"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

func (s *site) scales(v *visit) (view, error) {
	scales, err := s.scaleViews(v)
	if err != nil {
		return view{}, err
	}
	return view{page: "scales", title: "Scales", data: map[string]any{
		"Scales": scales, "MayCheck": v.mayCall(checkScale), "MayAdd": v.mayCall(createScale),
	}}, nil
}

// mostLoads is how many weights one check of the page takes.
const mostLoads = 4

// checkScale tries a scale against known weights.
func (s *site) checkScale(v *visit) (view, error) {
	f := v.form()
	f.set("zero_indication", "0.0")
	name := "scales/" + v.PathValue("id")
	if v.posted {
		check, err := s.intake.RecordScaleCheck(v.ctx, s.typedCheck(f, name))
		if err == nil {
			return view{page: "checked", title: "Scale " + idOf(name), status: http.StatusOK, data: map[string]any{"Check": check, "Scale": name}}, nil
		}
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	rows := make([]string, mostLoads)
	for i := range rows {
		rows[i] = strconv.Itoa(i + 1)
	}
	return view{page: "check", title: "Check scale " + idOf(name), data: map[string]any{
		"Form": f, "Scale": name, "Rows": rows, "Unit": words(s.Cooperative.Unit),
	}}, nil
}

func (s *site) typedCheck(f *form, scale string) *intakev1.RecordScaleCheckRequest {
	req := &intakev1.RecordScaleCheckRequest{
		RequestId: f.RequestID, Scale: scale, ZeroIndication: s.typedMass(f.Value("zero_indication")),
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
		f.inRow("loads", "weight "+n, "_"+n)
		req.Loads = append(req.Loads, &intakev1.CheckLoad{
			WeightId: f.Value("weight_id_" + n), Known: s.typedMass(f.Value("known_" + n)), Indication: s.typedMass(f.Value("indication_" + n)),
		})
	}
	return req
}

// newScale enters a scale.
func (s *site) newScale(v *visit) (view, error) {
	f := v.form()
	if v.posted {
		_, err := s.intake.CreateScale(v.ctx, &intakev1.CreateScaleRequest{
			RequestId: f.RequestID, ScaleId: f.Value("scale_id"), Scale: &intakev1.Scale{
				Description: f.Value("description"), Division: s.typedMass(f.Value("division")), Capacity: s.typedMass(f.Value("capacity")),
				AccuracyClass: intakev1.AccuracyClass(intakev1.AccuracyClass_value["ACCURACY_CLASS_"+f.Value("accuracy_class")]),
				Seal:          f.Value("seal"), CertificateExpireDate: f.Value("certificate_expire_date"),
			},
		})
		if err == nil {
			return view{goTo: "/scales"}, nil
		}
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	f.set("accuracy_class", "III")
	return view{page: "newscale", title: "New scale", data: map[string]any{"Form": f, "Unit": words(s.Cooperative.Unit)}}, nil
}
