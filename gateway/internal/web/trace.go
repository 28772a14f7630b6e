package web

import (
	"regexp"
	"strings"

	"google.golang.org/grpc/codes"

	"barrelhead.example/gateway/internal/rest"
	"barrelhead.example/gateway/internal/wording"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/checkdigit"
	"barrelhead.example/services/kit/quantity"
)

const listTraceEvents = inventoryv1.WarehouseRecordsService_ListTraceEvents_FullMethodName

// trace answers both questions of a recall on one page: whose honey is in this, and who has it.
func (s *site) trace(v *visit) (view, error) {
	f := v.form()
	d := map[string]any{"Form": f, "Typed": f.Value("code"), "MayExport": v.mayCall(listTraceEvents)}
	if code := strings.ToUpper(strings.TrimSpace(f.Value("code"))); code != "" {
		// A pallet carries several lots; its page leads to each, and to where it went.
		if scanned := palletScan(code); checkdigit.ValidGS1(scanned) == nil && len(scanned) == ssccDigits {
			return view{goTo: "/pallets/" + scanned}, nil
		}
		found, err := s.findTrace(v, code)
		switch {
		case err == nil:
			if strings.Contains(code, "/") { // a page led here; nobody types its name
				d["Typed"] = ""
			}
			brief := wording.Brief(namedIn(found))
			d["Trace"], d["Names"], d["Brief"], d["BestBy"], d["NoContact"] = found, placeNames(found, brief), brief, bestByOf(found), wording.NoContact
			if v.mayCall(placeHold) && !strings.HasPrefix(found.GetName(), "shipments/") && !strings.HasPrefix(found.GetName(), "returns/") {
				d["Hold"] = placeAddress(found.GetName()) + "/hold"
			}
		case !f.refused(v, err):
			return view{}, err
		default:
			if _, c := rest.Explain(v.Context(), err); c == codes.NotFound {
				f.Problem = s.plain("Nothing goes by the code " + code + ": no lot, no charge, no pallet and no drum. Check it and try again.")
			}
		}
	}
	return view{page: "trace", title: "Where honey came from and went", data: d}, nil
}

// chargeCode is the form of what people call a charge; a drum may have such a tag too.
var chargeCode = regexp.MustCompile(`^[A-Z0-9-]+-[0-9]{2}-[0-9]{3,}$`)

// findTrace takes the code on a jar, that of a charge, or the tag of a drum.
func (s *site) findTrace(v *visit, code string) (*inventoryv1.TraceResponse, error) {
	if strings.Contains(code, "/") {
		name := strings.ToLower(code)
		if id, lot := strings.CutPrefix(name, "packlots/"); lot {
			name = "packLots/" + id
		}
		return s.inventory.Trace(v.ctx, &inventoryv1.TraceRequest{Name: name})
	}
	found, err := s.inventory.Trace(v.ctx, &inventoryv1.TraceRequest{Name: "packLots/" + code})
	if _, c := rest.Explain(v.Context(), err); c != codes.NotFound {
		return found, err
	}
	if chargeCode.MatchString(code) {
		charge, err := s.inventory.Trace(v.ctx, &inventoryv1.TraceRequest{Name: "charges/" + code})
		if _, c := rest.Explain(v.Context(), err); c != codes.NotFound {
			return charge, err
		}
	}
	item, missing := s.scanned(v, code)
	if missing != nil {
		return nil, err
	}
	return s.inventory.Trace(v.ctx, &inventoryv1.TraceRequest{Name: item})
}

// massBalance is all honey ever received and where it is.
func (s *site) massBalance(v *visit) (view, error) {
	b, err := s.inventory.GetMassBalance(v.ctx, &inventoryv1.GetMassBalanceRequest{})
	if err != nil {
		return view{}, err
	}
	return view{page: "balance", title: "Mass balance", data: map[string]any{"Balance": b, "Agrees": isZero(b.GetDifference()), "MayList": v.mayCall(listBalances), "MayAsked": v.mayCall(listWriteOffs)}}, nil
}

func isZero(m *typev1.Mass) bool {
	v, err := quantity.ParseMass(m.GetValue())
	return err == nil && v == 0
}

// portion is the width of part in a bar of 600 for whole.
func portion(part, whole *typev1.Mass) int64 {
	p, err := quantity.ParseMass(part.GetValue())
	if err != nil {
		return 0
	}
	w, err := quantity.ParseMass(whole.GetValue())
	if err != nil {
		return 0
	}
	return min(max(share(p, w), 0), barsWidth)
}
