package rest

import (
	"context"
	"net/http"
	"strings"

	"google.golang.org/grpc/codes"

	"barrelhead.example/gateway/internal/edge"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/apierr"
)

// FormTokenHeader carries the form token of a change sent with a cookie instead of a bearer token.
const FormTokenHeader = "X-Form-Token"

type handler struct {
	door       *edge.Door
	mapper     http.Handler
	settlement settlementv1.SettlementServiceClient
	accounts   settlementv1.MemberAccountServiceClient
}

// New serves /v1. Streams end with ctx.
func New(ctx context.Context, door *edge.Door, s Services) (http.Handler, error) {
	mapper, err := newMapper(ctx, s)
	if err != nil {
		return nil, err
	}
	description, err := described()
	if err != nil {
		return nil, err
	}
	h := &handler{door: door, mapper: mapper, settlement: settlementv1.NewSettlementServiceClient(s.Settlement), accounts: settlementv1.NewMemberAccountServiceClient(s.Settlement)}
	mux := http.NewServeMux()
	mux.Handle("GET /v1/openapi.json", description)
	mux.HandleFunc("POST /v1/sessions", h.signIn)
	mux.Handle("GET /v1/sessions/current", h.known(h.currentSession))
	mux.Handle("DELETE /v1/sessions/current", h.known(h.signOut))
	mux.Handle("GET /v1/logins", h.administrator(h.listLogins))
	mux.Handle("POST /v1/logins", h.administrator(h.createLogin))
	mux.Handle("GET /v1/logins/{login}", h.administrator(h.getLogin))
	mux.Handle("POST /v1/logins/{action}", h.known(h.changeLogin))
	mux.HandleFunc("GET /v1/members/{member}/statements/{file}", h.statementFile)
	mux.Handle("GET /v1/journal.txt", h.known(h.journalText))
	mux.Handle("GET /v1/journal.csv", h.known(h.journalTable))
	mux.HandleFunc("GET /v1/members/{member}/taxRecords/{file}", h.ownTaxFile)
	mux.HandleFunc("GET /v1/taxRecords/{file}", h.taxFile)
	mux.HandleFunc("/v1/", h.forward)
	return mux, nil
}

// known lets signed-in callers through, and a change sent by a browser only with its form token.
func (h *handler) known(next http.HandlerFunc) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		v, err := h.door.Visitor(r)
		if err == nil && r.Method != http.MethodGet && r.Method != http.MethodHead {
			err = h.door.CheckWrite(r, v, r.Header.Get(FormTokenHeader))
		}
		if err != nil {
			writeError(w, r, err)
			return
		}
		next(w, r.WithContext(edge.WithVisitor(r.Context(), v)))
	})
}

func (h *handler) administrator(next http.HandlerFunc) http.Handler {
	return h.known(func(w http.ResponseWriter, r *http.Request) {
		if v, _ := edge.VisitorFrom(r.Context()); !v.Actor().Has(accessv1.Role_ROLE_ADMINISTRATOR) {
			writeError(w, r, notAdministrator(r))
			return
		}
		next(w, r)
	})
}

func notAdministrator(r *http.Request) error {
	return apierr.Reason(errorv1.Reason_REASON_NOT_ALLOWED, "only an administrator of the logins may do this; ask one",
		map[string]string{"method": r.Method + " " + r.URL.Path})
}

type strangerKey struct{}

// strangerFrom is why the caller counts as not signed in.
func strangerFrom(ctx context.Context) error {
	err, _ := ctx.Value(strangerKey{}).(error)
	return err
}

// forward maps a request to its RPC. Whether it needs a session is known only once the RPC is; a change always does.
func (h *handler) forward(w http.ResponseWriter, r *http.Request) {
	ctx := r.Context()
	reading := r.Method == http.MethodGet || r.Method == http.MethodHead
	v, err := h.door.Visitor(r)
	switch {
	case err == nil && !reading:
		err = h.door.CheckWrite(r, v, r.Header.Get(FormTokenHeader))
		ctx = edge.WithVisitor(ctx, v)
	case err == nil:
		ctx = edge.WithVisitor(ctx, v)
	case reading && apierr.Parse(err).Code == codes.Unauthenticated:
		ctx, err = context.WithValue(ctx, strangerKey{}, err), nil
	}
	if err != nil {
		writeError(w, r, err)
		return
	}
	if strings.HasSuffix(r.URL.Path, "/") {
		onRouting(ctx, nil, nil, w, r, http.StatusNotFound)
		return
	}
	r = r.WithContext(ctx)
	if err := prepareBody(r); err != nil {
		onError(ctx, nil, nil, w, r, err)
		return
	}
	h.mapper.ServeHTTP(w, r)
}
