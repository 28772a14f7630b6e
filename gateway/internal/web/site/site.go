// Package site is what every page stands on: the clients of the services, who visits, forms and what is wrong with them, the
// house's words, and the drawing of a page. It knows no room; rooms know it.
package site

import (
	"fmt"
	"html/template"
	"io/fs"
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

// Site is what every page can reach.
type Site struct {
	Options
	Intake     intakev1.IntakeServiceClient
	Indicators intakev1.IndicatorServiceClient
	Grading    gradingv1.GradingServiceClient
	Inventory  inventoryv1.InventoryServiceClient
	Records    inventoryv1.WarehouseRecordsServiceClient
	Packing    inventoryv1.PackingServiceClient
	Sales      inventoryv1.SalesServiceClient
	WriteOffs  inventoryv1.WriteOffServiceClient
	Settlement settlementv1.SettlementServiceClient
	Accounts   settlementv1.MemberAccountServiceClient
	PoolSales  settlementv1.PoolSalesServiceClient
	Terms      intakev1.DockTermsServiceClient
	Zone       *time.Location
	pages      map[string]drawing
	// calls are what each page calls its fields.
	calls map[string]map[string]string
	// rules says who may call which RPC: the same option the services enforce decides which page is offered to whom.
	rules map[string]access.Rule
}

// New opens the clients of all services. Nothing answers yet.
func New(o Options) (*Site, error) {
	zone, err := o.Cooperative.Location()
	if err != nil {
		return nil, err
	}
	s := &Site{
		Options: o, Zone: zone, rules: map[string]access.Rule{},
		Intake:     intakev1.NewIntakeServiceClient(o.Services.Intake),
		Indicators: intakev1.NewIndicatorServiceClient(o.Services.Intake),
		Grading:    gradingv1.NewGradingServiceClient(o.Services.Grading),
		Inventory:  inventoryv1.NewInventoryServiceClient(o.Services.Inventory),
		Records:    inventoryv1.NewWarehouseRecordsServiceClient(o.Services.Inventory),
		Packing:    inventoryv1.NewPackingServiceClient(o.Services.Inventory),
		Sales:      inventoryv1.NewSalesServiceClient(o.Services.Inventory),
		WriteOffs:  inventoryv1.NewWriteOffServiceClient(o.Services.Inventory),
		Settlement: settlementv1.NewSettlementServiceClient(o.Services.Settlement),
		Accounts:   settlementv1.NewMemberAccountServiceClient(o.Services.Settlement),
		PoolSales:  settlementv1.NewPoolSalesServiceClient(o.Services.Settlement),
		Terms:      intakev1.NewDockTermsServiceClient(o.Services.Intake),
	}
	for _, rule := range access.Matrix() {
		s.rules[rule.Method] = rule
	}
	return s, nil
}

// Room is what one place of the house gives the site.
type Room struct {
	// Pages by their addresses, as a mux takes them.
	Pages map[string]Page
	// Files holds the template of each page as pages/NAME.html, under a name no other room has. What several of them share may
	// be defined in pages/pieces.html.
	Files fs.FS
	// Functions of these templates, beside those of all.
	Functions template.FuncMap
}

// Handler serves the sign-in and all pages of the rooms under "/".
func (s *Site) Handler(rooms ...Room) (http.Handler, error) {
	if err := s.readPages(rooms); err != nil {
		return nil, fmt.Errorf("read pages: %w", err)
	}
	return s.secured(s.routes(rooms)), nil
}

func (s *Site) routes(rooms []Room) http.Handler {
	mux := http.NewServeMux()
	mux.Handle("GET /static/{hash}/{name}", http.HandlerFunc(serveStatic))
	mux.HandleFunc("GET /dock-worker.js", dockWorker)
	mux.HandleFunc("GET /sign-in", s.signInPage)
	mux.HandleFunc("POST /sign-in", s.signIn)
	mux.HandleFunc("POST /sign-out", s.signOut)
	for _, room := range rooms {
		for pattern, p := range room.Pages {
			s.route(mux, pattern, p)
		}
	}
	mux.Handle("/", s.page(Page{Show: func(*Visit) (View, error) { return View{}, ErrNoPage }}))
	return mux
}

func (s *Site) route(mux *http.ServeMux, pattern string, p Page) {
	if p.Open {
		mux.Handle("GET "+pattern, s.forAnybody(p))
		return
	}
	mux.Handle("GET "+pattern, s.page(p))
	if p.Form {
		mux.Handle("POST "+pattern, s.page(p))
	}
}

// policy lets a page load its own style sheet, script and pictures, ask our own API, send its own forms, and nothing else.
const policy = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

func (s *Site) secured(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Security-Policy", policy)
		w.Header().Set("Permissions-Policy", "camera=(), microphone=(), geolocation=(), payment=()")
		w.Header().Set("Cache-Control", "no-store")
		if err := edge.Legible(r); err != nil {
			s.fail(w, &Visit{Request: r, Ctx: r.Context(), Site: s}, err)
			return
		}
		next.ServeHTTP(w, r)
	})
}
