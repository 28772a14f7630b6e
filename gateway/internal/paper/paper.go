// Package paper is what the dock, the laboratory and the office print or hand on as a file: receiving tickets, labels,
// certificates, payouts and member lists. It asks the services as the caller who wants the paper, so whoever may not read
// a thing cannot print it either, and lays out what they answer. It decides nothing.
//
// The same resource comes out as the same bytes, whoever prints it and whenever.
package paper

import (
	"context"
	"net/http"
	"time"

	"go.uber.org/zap"

	"barrelhead.example/gateway/internal/edge"
	"barrelhead.example/gateway/internal/rest"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/config"
)

// Options of the papers.
type Options struct {
	Door        *edge.Door
	Services    rest.Services
	Cooperative config.Cooperative
	// Prefix is the GS1 company prefix, 7 to 9 digits; empty prints the cooperative's own numbers on drums instead of
	// shipping container codes.
	Prefix string
	// DisputeDays is until how many days after a delivery its ticket says that it can be questioned; 0 names no date.
	DisputeDays int
	Log         *zap.Logger
}

// press prints.
type press struct {
	Options
	zone       *time.Location
	intake     intakev1.IntakeServiceClient
	grading    gradingv1.GradingServiceClient
	settlement settlementv1.SettlementServiceClient
	inventory  inventoryv1.InventoryServiceClient
	records    inventoryv1.WarehouseRecordsServiceClient
	packing    inventoryv1.PackingServiceClient
	rules      map[string]access.Rule
}

func newPress(o Options) (*press, error) {
	zone, err := o.Cooperative.Location()
	if err != nil {
		return nil, err //nolint:wrapcheck // says what it is
	}
	p := &press{
		Options: o, zone: zone, rules: map[string]access.Rule{},
		intake: intakev1.NewIntakeServiceClient(o.Services.Intake), grading: gradingv1.NewGradingServiceClient(o.Services.Grading),
		settlement: settlementv1.NewSettlementServiceClient(o.Services.Settlement),
	}
	p.inventory, p.records = inventoryv1.NewInventoryServiceClient(o.Services.Inventory), inventoryv1.NewWarehouseRecordsServiceClient(o.Services.Inventory)
	p.packing = inventoryv1.NewPackingServiceClient(o.Services.Inventory)
	for _, rule := range access.Matrix() {
		p.rules[rule.Method] = rule
	}
	return p, nil
}

// Over serves the papers under /v1, beside the resources they belong to, and hands every other request to api.
func Over(api http.Handler, o Options) (http.Handler, error) {
	p, err := newPress(o)
	if err != nil {
		return nil, err
	}
	mux := http.NewServeMux()
	for pattern, d := range p.downloads() {
		mux.Handle(pattern, rest.Guard(o.Door, p.download(d)))
	}
	for _, kind := range []string{"stock", "charges", "packLots", "shipments", "returns"} {
		pdf := func(ctx context.Context, id string) ([]byte, string, error) { return p.recallPDF(ctx, kind, id) }
		csv := func(ctx context.Context, id string) ([]byte, string, error) { return p.recallCSV(ctx, kind, id) }
		mux.Handle("GET /v1/"+kind+"/{id}/recall.pdf", rest.Guard(o.Door, p.download(download{media: typePDF, make: pdf})))
		mux.Handle("GET /v1/"+kind+"/{id}/recall.csv", rest.Guard(o.Door, p.download(download{media: typeCSV, make: csv})))
	}
	mux.Handle("GET /v1/traceEvents.jsonld", rest.Guard(o.Door, p.epcis))
	mux.Handle("POST /v1/members:import", rest.Guard(o.Door, p.importMembers))
	mux.Handle("POST /v1/heatStays/{stay}/readings", rest.Guard(o.Door, p.importReadings))
	mux.Handle("/", api)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if err := edge.Legible(r); err != nil {
			rest.Refuse(w, r, err)
			return
		}
		mux.ServeHTTP(w, r)
	}), nil
}

// Media types of what is printed.
const (
	typePDF  = "application/pdf"
	typeText = "text/plain; charset=utf-8"
	typeCSV  = "text/csv; charset=utf-8; header=present"
	typeXLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
)

// download is one paper.
type download struct {
	media string
	// needs is an RPC whose callers may have the paper, where that is narrower than the RPCs it is read with.
	needs string
	// make draws it for the resource in the path and names the file.
	make func(ctx context.Context, id string) (content []byte, name string, err error)
}

func (p *press) downloads() map[string]download {
	return map[string]download{
		"GET /v1/tickets/{id}/ticket.pdf": {media: typePDF, make: p.makeTicketPDF},
		"GET /v1/tickets/{id}/ticket.txt": {media: typeText, make: p.makeTicketText},
		// Labels are for those who have the drum or the jar in hand: a code beside a barrel is what the laboratory must
		// never see.
		"GET /v1/barrels/{id}/drum-label.pdf":       {media: typePDF, needs: intakev1.IntakeService_GetDrum_FullMethodName, make: p.makeDrumLabel},
		"GET /v1/barrels/{id}/sample-labels.pdf":    {media: typePDF, needs: intakev1.IntakeService_DrawSample_FullMethodName, make: p.makeSampleLabels},
		"GET /v1/packLots/{id}/case-label.pdf":      {media: typePDF, make: p.makeCaseLabel},
		"GET /v1/pallets/{id}/label.pdf":            {media: typePDF, make: p.makePalletLabel},
		"GET /v1/certificates/{id}/certificate.pdf": {media: typePDF, make: p.makeCertificate},
		"GET /v1/members/{id}/payouts.pdf":          {media: typePDF, make: p.makePayoutsPDF},
		"GET /v1/members/{id}/payouts.csv":          {media: typeCSV, make: p.makePayoutsCSV},
		"GET /v1/members.csv":                       {media: typeCSV, make: p.makeMembersCSV},
		"GET /v1/members.xlsx":                      {media: typeXLSX, make: p.makeMembersXLSX},
	}
}
