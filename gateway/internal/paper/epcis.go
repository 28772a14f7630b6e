package paper

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/gateway/internal/edge"
	"barrelhead.example/gateway/internal/rest"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/clock"
)

// What follows is the JSON form of EPCIS 2.0, the open standard of GS1 for visibility events, with steps and dispositions of its
// Core Business Vocabulary (CBV 2.0): the schema and the ontology of the standard (github gs1/EPCIS, JSON-Schema and Ontology/CBV.ttl).
// Where nothing is to be said of a thing, the disposition is left out rather than "in_progress", as the vocabulary recommends. Honey has
// no class of its own there: classes and places without a GS1 key are private URNs.

const typeJSONLD = "application/ld+json"

// epcisDocument is what is exchanged.
type epcisDocument struct {
	Context       []string  `json:"@context"`
	Type          string    `json:"type"`
	SchemaVersion string    `json:"schemaVersion"`
	CreationDate  string    `json:"creationDate"`
	Body          epcisBody `json:"epcisBody"`
}

type epcisBody struct {
	Events []epcisEvent `json:"eventList"`
}

// epcisEvent is an ObjectEvent, an AggregationEvent or a TransformationEvent; what a kind does not have is left out.
type epcisEvent struct {
	Type             string           `json:"type"`
	EventID          string           `json:"eventID"`
	EventTime        string           `json:"eventTime"`
	Offset           string           `json:"eventTimeZoneOffset"`
	Action           string           `json:"action,omitempty"`
	BizStep          string           `json:"bizStep"`
	Disposition      string           `json:"disposition,omitempty"`
	Parent           string           `json:"parentID,omitempty"`
	ChildQuantities  []epcisQuantity  `json:"childQuantityList,omitempty"`
	EPCs             *[]string        `json:"epcList,omitempty"`
	Quantities       []epcisQuantity  `json:"quantityList,omitempty"`
	Inputs           []string         `json:"inputEPCList,omitempty"`
	InputQuantities  []epcisQuantity  `json:"inputQuantityList,omitempty"`
	Outputs          []string         `json:"outputEPCList,omitempty"`
	OutputQuantities []epcisQuantity  `json:"outputQuantityList,omitempty"`
	ReadPoint        *epcisPlace      `json:"readPoint,omitempty"`
	BizLocation      *epcisPlace      `json:"bizLocation,omitempty"`
	Transactions     []epcisReference `json:"bizTransactionList,omitempty"`
	Sources          []epcisReference `json:"sourceList,omitempty"`
	Destinations     []epcisReference `json:"destinationList,omitempty"`
}

type epcisQuantity struct {
	Class    string      `json:"epcClass"`
	Quantity json.Number `json:"quantity"`
	// Unit is of UN/CEFACT Recommendation 20; without one the quantity counts things.
	Unit string `json:"uom,omitempty"`
}

type epcisPlace struct {
	ID string `json:"id"`
}

type epcisReference struct {
	Type        string `json:"type"`
	Transaction string `json:"bizTransaction,omitempty"`
	Source      string `json:"source,omitempty"`
	Destination string `json:"destination,omitempty"`
}

// epcis serves what happened to honey from from_date to through_date.
func (p *press) epcis(w http.ResponseWriter, r *http.Request) {
	content, err := p.epcisOf(r)
	if err != nil {
		p.refuse(w, r, err)
		return
	}
	query := r.URL.Query()
	rest.Download(w, fmt.Sprintf("epcis-%s-%s.jsonld", query.Get("from_date"), query.Get("through_date")), typeJSONLD, content)
}

func (p *press) epcisOf(r *http.Request) ([]byte, error) {
	if err := parameters(r, "from_date", "through_date"); err != nil {
		return nil, err
	}
	v, _ := edge.VisitorFrom(r.Context())
	ctx, cancel := context.WithTimeout(rest.Metadata(r.Context(), v), longest)
	defer cancel()
	ask := &inventoryv1.ListTraceEventsRequest{FromDate: r.URL.Query().Get("from_date"), ThroughDate: r.URL.Query().Get("through_date"), PageSize: 1000}
	document := epcisDocument{
		Context: []string{"https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld"}, Type: "EPCISDocument", SchemaVersion: "2.0",
		CreationDate: clock.System.Now().UTC().Format(time.RFC3339), Body: epcisBody{Events: []epcisEvent{}},
	}
	for {
		page, err := p.records.ListTraceEvents(ctx, ask)
		if err != nil {
			return nil, err //nolint:wrapcheck // a refusal of the service
		}
		for _, e := range page.GetEvents() {
			document.Body.Events = append(document.Body.Events, p.epcisEvent(e))
		}
		if ask.PageToken = page.GetNextPageToken(); ask.GetPageToken() == "" {
			content, err := json.MarshalIndent(document, "", " ")
			if err != nil {
				return nil, fmt.Errorf("write events: %w", err)
			}
			return content, nil
		}
	}
}

func (p *press) epcisEvent(e *inventoryv1.TraceEvent) epcisEvent {
	at := e.GetTime().AsTime().In(p.zone)
	out := epcisEvent{
		Type: "ObjectEvent", EventID: eventID(e.GetName()), EventTime: at.Format("2006-01-02T15:04:05.000-07:00"), Offset: at.Format("-07:00"),
		Action: "OBSERVE", ReadPoint: p.epcisSite(), BizLocation: p.epcisSite(),
	}
	switch e.GetKind() {
	case inventoryv1.TraceEventKind_TRACE_EVENT_KIND_RECEIVED:
		out.BizStep, out.EPCs, out.Quantities = "receiving", things(e.GetSubject()), p.honey(e.GetMass())
		out.Transactions = []epcisReference{{Type: "recadv", Transaction: "urn:uuid:" + last(e.GetTicket())}}
	case inventoryv1.TraceEventKind_TRACE_EVENT_KIND_HELD:
		out.BizStep, out.Disposition, out.EPCs = "holding", held(e), things(e.GetSubject())
	case inventoryv1.TraceEventKind_TRACE_EVENT_KIND_RELEASED:
		out.BizStep, out.Disposition, out.EPCs = "inspecting", released(e), things(e.GetSubject())
	case inventoryv1.TraceEventKind_TRACE_EVENT_KIND_MOVED:
		out.BizStep, out.EPCs = "storing", things(e.GetSubject())
		out.BizLocation = &epcisPlace{p.private("location", p.Cooperative.Site, e.GetTo())}
	case inventoryv1.TraceEventKind_TRACE_EVENT_KIND_PACKED:
		out.Action, out.BizStep, out.Disposition, out.EPCs = "ADD", "commissioning", "active", things(e.GetSubject())
		out.Quantities = p.jars(e)
	case inventoryv1.TraceEventKind_TRACE_EVENT_KIND_PALLETISED:
		out.Type, out.Action, out.BizStep, out.Parent = "AggregationEvent", "ADD", "packing", palletID(e)
		out.ChildQuantities = p.jars(e)
	case inventoryv1.TraceEventKind_TRACE_EVENT_KIND_TAKEN_APART:
		out.Type, out.Action, out.BizStep, out.Parent = "AggregationEvent", "DELETE", "unpacking", palletID(e)
		out.ChildQuantities = p.jars(e)
	case inventoryv1.TraceEventKind_TRACE_EVENT_KIND_PALLET_SHIPPED:
		out.EPCs = &[]string{palletID(e)}
		p.epcisShipped(e, &out)
	case inventoryv1.TraceEventKind_TRACE_EVENT_KIND_SHIPPED:
		out.EPCs, out.Quantities = things(e.GetFrom()), p.honey(e.GetMass())
		p.epcisShipped(e, &out)
	case inventoryv1.TraceEventKind_TRACE_EVENT_KIND_RETURNED:
		p.epcisBack(e, &out, "receiving", "returned")
		out.Sources = []epcisReference{{Type: "owning_party", Source: p.private("customer", e.GetCustomer())}}
		out.Transactions = []epcisReference{{Type: "bol", Transaction: "urn:uuid:" + last(e.GetFrom())}}
	case inventoryv1.TraceEventKind_TRACE_EVENT_KIND_RESTOCKED:
		if e.GetJars() == 0 {
			p.epcisPoured(e, &out)
			break
		}
		p.epcisBack(e, &out, "storing", "sellable_not_accessible")
	case inventoryv1.TraceEventKind_TRACE_EVENT_KIND_LOST:
		out.Action, out.BizStep, out.Disposition, out.EPCs, out.Quantities = "DELETE", "destroying", "destroyed", things(), p.honey(e.GetMass())
		out.ReadPoint = &epcisPlace{"urn:uuid:" + last(e.GetFrom())}
		if e.GetJars() > 0 {
			out.Quantities = p.jars(e)
		}
	default:
		p.epcisPoured(e, &out)
	}
	// A charge keeps its number as a thing; what people call it stands beside, as the order it was blended to.
	for _, code := range e.GetChargeCodes() {
		out.Transactions = append(out.Transactions, epcisReference{Type: "prodorder", Transaction: p.private("charge", code)})
	}
	return out
}

// epcisPoured is what is said of honey that became part of something else.
func (p *press) epcisPoured(e *inventoryv1.TraceEvent, out *epcisEvent) {
	out.Type, out.Action, out.BizStep = "TransformationEvent", "", transferStep(e.GetFrom(), e.GetTo())
	out.Inputs, out.Outputs = *things(e.GetFrom()), *things(e.GetTo())
	out.InputQuantities, out.OutputQuantities = p.honey(e.GetMass()), p.honey(e.GetMass())
}

// held is the disposition of what is segregated for review: "not sellable pending further evaluation", in the words of the vocabulary,
// which has no quarantine, or recalled.
func held(e *inventoryv1.TraceEvent) string {
	if e.GetHoldCode() == inventoryv1.HoldCode_HOLD_CODE_RECALL {
		return "recalled"
	}
	return "non_sellable_other"
}

// released is the disposition of what somebody looked over: back in the supply chain, unless another hold stands.
func released(e *inventoryv1.TraceEvent) string {
	if e.GetStillHeld() {
		return "non_sellable_other"
	}
	return "available"
}

// events sets ids of events apart from those of what they are about.
var events = uuid.MustParse("8f0d6c0a-54f7-4d3c-9b0e-6a7e1c2d9b35")

// eventID is that of a movement or transfer, which is nothing else; other events get one that follows from their name.
func eventID(name string) string {
	if kind, id, _ := strings.Cut(name, "/"); kind == "movements" || kind == "transfers" {
		return "urn:uuid:" + id
	}
	return "urn:uuid:" + uuid.NewSHA1(events, []byte(name)).String()
}

// epcisShipped is what is said of everything that left.
func (p *press) epcisShipped(e *inventoryv1.TraceEvent, out *epcisEvent) {
	out.BizStep, out.Disposition = "shipping", "in_transit"
	out.BizLocation = nil // it has left
	out.Transactions = []epcisReference{{Type: "bol", Transaction: "urn:uuid:" + last(e.GetTo())}}
	out.Destinations = []epcisReference{{Type: "owning_party", Destination: p.private("customer", e.GetCustomer())}}
}

// epcisBack is what is said of what customers sent back: jars by their lot, honey in bulk by its return, out of which it is poured later.
func (p *press) epcisBack(e *inventoryv1.TraceEvent, out *epcisEvent, step, disposition string) {
	out.BizStep, out.Disposition, out.EPCs, out.Quantities = step, disposition, things(e.GetSubject()), p.honey(e.GetMass())
	if e.GetJars() > 0 {
		out.EPCs, out.Quantities = things(), p.jars(e)
	}
}

func (p *press) jars(e *inventoryv1.TraceEvent) []epcisQuantity {
	return []epcisQuantity{{Class: p.lotClass(e), Quantity: json.Number(fmt.Sprint(e.GetJars()))}}
}

// palletID is a pallet by its code (application identifier 00) as a GS1 Digital Link where it has one.
func palletID(e *inventoryv1.TraceEvent) string {
	if e.GetSscc() == "" {
		return "urn:uuid:" + last(e.GetSubject())
	}
	return "https://id.gs1.org/00/" + e.GetSscc()
}

// transferStep is what moving honey within the house is called.
func transferStep(from, to string) string {
	switch {
	case strings.HasPrefix(to, "packLots/"):
		return "packing"
	case strings.HasPrefix(from, "packLots/"):
		return "unpacking"
	case strings.HasPrefix(to, "stock/"):
		return "repackaging"
	default:
		return "creating_class_instance"
	}
}

func things(names ...string) *[]string {
	out := []string{}
	for _, name := range names {
		out = append(out, "urn:uuid:"+last(name))
	}
	return &out
}

var unitCodes = map[string]string{"LB": "LBR", "KG": "KGM"}

func (p *press) honey(m *typev1.Mass) []epcisQuantity {
	return []epcisQuantity{{Class: p.private("class", "honey"), Quantity: json.Number(m.GetValue()), Unit: unitCodes[m.GetUnit()]}}
}

// lotClass is the jars of a lot: by GTIN and lot (application identifiers 01 and 10) as a GS1 Digital Link where the label has one.
func (p *press) lotClass(e *inventoryv1.TraceEvent) string {
	if e.GetGtin() == "" {
		return p.private("lot", e.GetLotCode())
	}
	return "https://id.gs1.org/01/" + gtin14(e.GetGtin()) + "/10/" + url.PathEscape(e.GetLotCode())
}

func (p *press) epcisSite() *epcisPlace { return &epcisPlace{p.private("site", p.Cooperative.Site)} }

func (p *press) private(parts ...string) string {
	for i, part := range parts {
		parts[i] = url.PathEscape(part)
	}
	return "urn:x-barrelhead:" + strings.Join(parts, ":")
}
