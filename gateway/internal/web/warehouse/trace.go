package warehouse

import (
	"regexp"
	"strings"

	"google.golang.org/grpc/codes"

	"barrelhead.example/gateway/internal/rest"
	"barrelhead.example/gateway/internal/web/site"
	"barrelhead.example/gateway/internal/wording"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/checkdigit"
	"barrelhead.example/services/kit/quantity"
)

const listTraceEvents = inventoryv1.WarehouseRecordsService_ListTraceEvents_FullMethodName

// trace answers both questions of a recall on one page: whose honey is in this, and who has it.
func (s room) trace(v *site.Visit) (site.View, error) {
	f := v.Form()
	d := map[string]any{"Form": f, "Typed": f.Value("code"), "MayExport": v.MayCall(listTraceEvents)}
	if code := strings.ToUpper(strings.TrimSpace(f.Value("code"))); code != "" {
		// A pallet carries several lots; its page leads to each, and to where it went.
		if scanned := palletScan(code); checkdigit.ValidGS1(scanned) == nil && len(scanned) == ssccDigits {
			return site.View{GoTo: "/pallets/" + scanned}, nil
		}
		found, err := s.findTrace(v, code)
		switch {
		case err == nil:
			if strings.Contains(code, "/") { // a page led here; nobody types its name
				d["Typed"] = ""
			}
			brief := wording.Brief(namedIn(found))
			d["Trace"], d["Names"], d["Brief"], d["BestBy"], d["NoContact"] = found, placeNames(found, brief), brief, bestByOf(found), wording.NoContact
			if v.MayCall(placeHold) && !strings.HasPrefix(found.GetName(), "shipments/") && !strings.HasPrefix(found.GetName(), "returns/") {
				d["Hold"] = site.PlaceAddress(found.GetName()) + "/hold"
			}
		case !f.Refused(v, err):
			return site.View{}, err
		default:
			if _, c := rest.Explain(v.Context(), err); c == codes.NotFound {
				f.Problem = s.Plain("Nothing goes by the code " + code + ": no lot, no charge, no pallet and no drum. Check it and try again.")
			}
		}
	}
	return site.View{Page: "trace", Title: "Where honey came from and went", Data: d}, nil
}

// chargeCode is the form of what people call a charge; a drum may have such a tag too.
var chargeCode = regexp.MustCompile(`^[A-Z0-9-]+-[0-9]{2}-[0-9]{3,}$`)

// findTrace takes the code on a jar, that of a charge, or the tag of a drum.
func (s room) findTrace(v *site.Visit, code string) (*inventoryv1.TraceResponse, error) {
	if strings.Contains(code, "/") {
		name := strings.ToLower(code)
		if id, lot := strings.CutPrefix(name, "packlots/"); lot {
			name = "packLots/" + id
		}
		return s.Inventory.Trace(v.Ctx, &inventoryv1.TraceRequest{Name: name})
	}
	found, err := s.Inventory.Trace(v.Ctx, &inventoryv1.TraceRequest{Name: "packLots/" + code})
	if _, c := rest.Explain(v.Context(), err); c != codes.NotFound {
		return found, err
	}
	if chargeCode.MatchString(code) {
		charge, err := s.Inventory.Trace(v.Ctx, &inventoryv1.TraceRequest{Name: "charges/" + code})
		if _, c := rest.Explain(v.Context(), err); c != codes.NotFound {
			return charge, err
		}
	}
	item, missing := s.scanned(v, code)
	if missing != nil {
		return nil, err
	}
	return s.Inventory.Trace(v.Ctx, &inventoryv1.TraceRequest{Name: item})
}

// massBalance is all honey ever received and where it is.
func (s room) massBalance(v *site.Visit) (site.View, error) {
	b, err := s.Inventory.GetMassBalance(v.Ctx, &inventoryv1.GetMassBalanceRequest{})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "balance", Title: "Mass balance", Data: map[string]any{"Balance": b, "Agrees": isZero(b.GetDifference()), "MayList": v.MayCall(listBalances), "MayAsked": v.MayCall(listWriteOffs)}}, nil
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
	return min(max(site.Share(p, w), 0), site.BarsWidth)
}
