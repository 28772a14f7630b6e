// Package web is the pages of the suite: for gloves, bad light and slow phones. One task a page, the first line is the
// answer, and everything works without a script. It asks the services and shows what they say; it decides nothing.
package web

import (
	"fmt"
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
	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/config"
)

// Options of the pages.
type Options struct {
	Door        *edge.Door
	Services    rest.Services
	Cooperative config.Cooperative
	Clock       clock.Clock
	Log         *zap.Logger
	// Papers serve /v1: pages that take a file hand it to the same door programs use.
	Papers http.Handler
}

// site is what every page can reach.
type site struct {
	Options
	intake     intakev1.IntakeServiceClient
	indicators intakev1.IndicatorServiceClient
	grading    gradingv1.GradingServiceClient
	inventory  inventoryv1.InventoryServiceClient
	records    inventoryv1.WarehouseRecordsServiceClient
	packing    inventoryv1.PackingServiceClient
	sales      inventoryv1.SalesServiceClient
	writeOffs  inventoryv1.WriteOffServiceClient
	settlement settlementv1.SettlementServiceClient
	accounts   settlementv1.MemberAccountServiceClient
	poolSales  settlementv1.PoolSalesServiceClient
	terms      intakev1.DockTermsServiceClient
	zone       *time.Location
	pages      map[string]drawing
	// calls are what each page calls its fields.
	calls map[string]map[string]string
	// rules says who may call which RPC: the same option the services enforce decides which page is offered to whom.
	rules map[string]access.Rule
}

// New serves every page under "/".
func New(o Options) (http.Handler, error) {
	zone, err := o.Cooperative.Location()
	if err != nil {
		return nil, err
	}
	s := &site{
		Options: o, zone: zone, rules: map[string]access.Rule{},
		intake:     intakev1.NewIntakeServiceClient(o.Services.Intake),
		indicators: intakev1.NewIndicatorServiceClient(o.Services.Intake),
		grading:    gradingv1.NewGradingServiceClient(o.Services.Grading),
		inventory:  inventoryv1.NewInventoryServiceClient(o.Services.Inventory),
		records:    inventoryv1.NewWarehouseRecordsServiceClient(o.Services.Inventory),
		packing:    inventoryv1.NewPackingServiceClient(o.Services.Inventory),
		sales:      inventoryv1.NewSalesServiceClient(o.Services.Inventory),
		writeOffs:  inventoryv1.NewWriteOffServiceClient(o.Services.Inventory),
		settlement: settlementv1.NewSettlementServiceClient(o.Services.Settlement),
		accounts:   settlementv1.NewMemberAccountServiceClient(o.Services.Settlement),
		poolSales:  settlementv1.NewPoolSalesServiceClient(o.Services.Settlement),
		terms:      intakev1.NewDockTermsServiceClient(o.Services.Intake),
	}
	for _, rule := range access.Matrix() {
		s.rules[rule.Method] = rule
	}
	if s.pages, err = s.readPages(); err != nil {
		return nil, fmt.Errorf("read pages: %w", err)
	}
	return s.secured(s.routes()), nil
}

func (s *site) routes() http.Handler {
	mux := http.NewServeMux()
	mux.Handle("GET /static/{hash}/{name}", http.HandlerFunc(serveStatic))
	mux.HandleFunc("GET /sign-in", s.signInPage)
	mux.HandleFunc("POST /sign-in", s.signIn)
	mux.HandleFunc("POST /sign-out", s.signOut)
	mux.HandleFunc("GET /members/{number}/statements/{file}", s.statement)
	mux.HandleFunc("GET /verify/{id}", s.verify)
	mux.HandleFunc("GET /verify-statement", s.checkStatement)
	mux.HandleFunc("GET /dock-worker.js", dockWorker)
	for pattern, p := range s.everyPage() {
		mux.Handle("GET "+pattern, s.page(p))
		if p.form {
			mux.Handle("POST "+pattern, s.page(p))
		}
	}
	mux.Handle("/", s.page(page{show: func(v *visit) (view, error) { return view{}, errNoPage }}))
	return mux
}

// policy lets a page load its own style sheet, script and pictures, ask our own API, send its own forms, and nothing else.
const policy = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

func (s *site) secured(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Security-Policy", policy)
		w.Header().Set("Permissions-Policy", "camera=(), microphone=(), geolocation=(), payment=()")
		w.Header().Set("Cache-Control", "no-store")
		if err := edge.Legible(r); err != nil {
			s.fail(w, &visit{Request: r, ctx: r.Context(), site: s}, err)
			return
		}
		next.ServeHTTP(w, r)
	})
}
