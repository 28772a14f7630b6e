package rest_test

import (
	"fmt"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/api/annotations"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	"barrelhead.example/gateway/internal/gatetest"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
)

const requestID = "6f1c2a60-0000-4000-8000-000000000001"

func TestMapping_PassesTheVisitorAndNothingElse(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	c := callerOf(t, w, w.Token("juniper"))
	for name, value := range map[string]string{
		"Barrelhead-Actor": "users/office1", "Barrelhead-Roles": "OFFICE", "Barrelhead-Member": gatetest.Sedge,
		"Grpc-Metadata-Barrelhead-Actor": "users/office1", "Grpc-Metadata-Barrelhead-Roles": "OFFICE,BOARD",
		"Grpc-Metadata-Barrelhead-Member": gatetest.Sedge, "Grpcgateway-Barrelhead-Roles": "OFFICE", "Grpc-Timeout": "1n",
		"X-Http-Method-Override": "DELETE", "X-Request-Id": "caller-chosen-1",
	} {
		c.header.Set(name, value)
	}
	answer, _ := c.send("GET", "/v1/members/M-0012/total", "")
	require.Equal(t, http.StatusOK, answer.StatusCode)
	asked := w.House.Asked(&settlementv1.GetMemberTotalRequest{})
	require.Len(t, asked, 1)
	require.Equal(t, "users/juniper", asked[0].Actor.Login)
	require.Equal(t, []accessv1.Role{accessv1.Role_ROLE_MEMBER}, asked[0].Actor.Roles)
	require.Equal(t, gatetest.Juniper, asked[0].Actor.Member)
	require.Equal(t, []string{"caller-chosen-1"}, asked[0].Metadata.Get("barrelhead-request-id"))
	require.Empty(t, asked[0].Metadata.Get("authorization"), "the token is no service's business")
	require.Empty(t, asked[0].Metadata.Get("grpcgateway-authorization"))
	c.refused("GET", "/v1/members/M-0007/total", "", http.StatusNotFound, "NOT_FOUND", "NOT_FOUND")
}

func TestMapping_ANeighboursPayoutAnswersLikeNone(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	c := callerOf(t, w, w.Token("juniper"))
	neighbours := c.refused("GET", "/v1/payouts/"+gatetest.SedgePayoutID, "", http.StatusNotFound, "NOT_FOUND", "NOT_FOUND")
	none := c.refused("GET", "/v1/payouts/"+gatetest.UnknownPayoutID, "", http.StatusNotFound, "NOT_FOUND", "NOT_FOUND")
	for _, r := range []*string{&neighbours.Message, &neighbours.RequestID} {
		*r = strings.ReplaceAll(*r, gatetest.SedgePayoutID, gatetest.UnknownPayoutID)
	}
	neighbours.RequestID, neighbours.Metadata = none.RequestID, none.Metadata
	require.Equal(t, none, neighbours)
	answer, payout := c.send("GET", "/v1/payouts/"+gatetest.PayoutID, "")
	require.Equal(t, http.StatusOK, answer.StatusCode)
	require.Equal(t, map[string]any{"amount": "683.03", "currency_code": "USD"}, payout["net_amount"])
	require.Empty(t, payout["reverses"], "what is empty is said, so that a reader need not know defaults")
	require.Contains(t, payout, "reverses")
}

func TestMapping_EveryRefusalHasItsStatus(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	c := callerOf(t, w, w.Token("dock1"))
	cases := []struct {
		err          error
		status       int
		code, reason string
	}{
		{apierr.SamePerson("users/dock1", "the same person"), 400, "FAILED_PRECONDITION", "SAME_PERSON"},
		{apierr.ReasonRequired("net", "unusual", map[string]string{"low": "560"}), 400, "INVALID_ARGUMENT", "REASON_REQUIRED"},
		{apierr.AlreadyExists("tickets/x", "exists"), 409, "ALREADY_EXISTS", "ALREADY_EXISTS"},
		{apierr.ETag("tickets/x", "4"), 409, "ABORTED", "ETAG_MISMATCH"},
		{apierr.NotFound("members/M-0099"), 404, "NOT_FOUND", "NOT_FOUND"},
		{apierr.Reason(errorv1.Reason_REASON_NOT_ALLOWED, "not you", nil), 403, "PERMISSION_DENIED", "NOT_ALLOWED"},
		{apierr.Unavailable(nil), 503, "UNAVAILABLE", "UNAVAILABLE"},
		{apierr.Internal(nil), 500, "INTERNAL", "INTERNAL"},
		{status.Error(codes.Unknown, "pq: password is hunter2"), 500, "INTERNAL", "INTERNAL"},
	}
	body := fmt.Sprintf(`{"request_id":%q,"member":"members/M-0012","crop_year":2026}`, requestID)
	for _, refusal := range cases {
		w.House.Refuse(&intakev1.OpenTicketRequest{}, refusal.err)
		got := c.refused("POST", "/v1/tickets", body, refusal.status, refusal.code, refusal.reason)
		require.NotContains(t, got.Message, "hunter2")
	}
	answer, _ := c.send("POST", "/v1/tickets", body)
	require.Equal(t, http.StatusOK, answer.StatusCode)
}

func TestMapping_ServicesFaultsNameTheFields(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	c := callerOf(t, w, w.Token("dock1"))
	got := c.refused("POST", "/v1/tickets/x/barrels", `{"request_id":"no","drum_tag":"?","gross":{"value":"1.23456","unit":"LB"}}`,
		400, "INVALID_ARGUMENT", "FIELD_INVALID")
	require.Subset(t, faulty(got), []string{"request_id", "drum_tag", "gross.value", "variety", "tare", "scale"})
	require.Empty(t, w.House.Asked(&intakev1.WeighBarrelRequest{}), "the service's own check refused it")
}

var (
	variable = regexp.MustCompile(`\{[a-z_]+=([^}]*)\}`)
	segment  = regexp.MustCompile(`\{[a-z_]+\}`)
)

// mapped are the paths an RPC says it has, with their variables as a pattern: "GET /v1/members/*".
func mapped(rule access.Rule) (paths []string) {
	http, ok := proto.GetExtension(rule.Descriptor.Options(), annotations.E_Http).(*annotations.HttpRule)
	if !ok || http == nil {
		return nil
	}
	for _, binding := range append([]*annotations.HttpRule{http}, http.GetAdditionalBindings()...) {
		method, path := "GET", binding.GetGet()
		if path == "" {
			method, path = "POST", binding.GetPost()
		}
		paths = append(paths, method+" "+segment.ReplaceAllString(variable.ReplaceAllString(path, "$1"), "*"))
	}
	return paths
}

// Every RPC that says it has a path is reached at every one it has, and at no other RPC's: the house answers, or refuses by the
// name of the method, and nobody gets there without having signed in.
func TestMapping_ReachesEveryRPC(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	stranger, auditor := callerOf(t, w, ""), callerOf(t, w, w.Token("auditor1"))
	paths := 0
	for _, rule := range access.Matrix() {
		for _, binding := range mapped(rule) {
			paths++
			method, path, _ := strings.Cut(strings.ReplaceAll(binding, "*", "x"), " ")
			reached(t, stranger, auditor, rule, method, path)
		}
	}
	require.Greater(t, paths, 30)
}

func reached(t *testing.T, stranger, auditor *caller, rule access.Rule, method, path string) {
	t.Helper()
	body := ""
	if method == "POST" {
		body = "{}"
	}
	if rule.Allow.GetPublic() {
		answer, _ := stranger.send(method, path, body)
		require.NotEqual(t, http.StatusUnauthorized, answer.StatusCode, path)
	} else {
		stranger.refused(method, path, body, 401, "UNAUTHENTICATED", "UNAUTHENTICATED")
	}
	answer, read := auditor.send(method, path, body)
	refusal, refused := read["error"].(map[string]any)
	switch {
	case !refused, refusal["reason"] == "NOT_FOUND" && refusal["message"] != path+" does not exist; see /v1/openapi.json":
	case refusal["reason"] == "NOT_ALLOWED":
		require.Equal(t, map[string]any{"method": rule.Method}, refusal["metadata"])
	case refusal["code"] == "UNIMPLEMENTED":
		require.Contains(t, refusal["message"], "method "+string(rule.Descriptor.Name())+" not implemented")
	default:
		require.Equal(t, http.StatusBadRequest, answer.StatusCode, "%s %s: %v", method, path, read)
		require.Contains(t, []any{"FIELD_INVALID", "STATE_FORBIDS"}, refusal["reason"])
	}
}

func TestMapping_RefusesWhatTheRequestDoesNotHave(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	c := callerOf(t, w, w.Token("office1"))
	got := c.refused("GET", "/v1/unpriced?memeber=members/M-0012", "", 400, "INVALID_ARGUMENT", "FIELD_INVALID")
	require.Equal(t, []string{"memeber"}, faulty(got))
	got = c.refused("GET", "/v1/unpriced?member=a&member=b", "", 400, "INVALID_ARGUMENT", "FIELD_INVALID")
	require.Equal(t, []string{"member"}, faulty(got))
	got = c.refused("GET", "/v1/members/M-0012?display_name=x", "", 400, "INVALID_ARGUMENT", "FIELD_INVALID")
	require.Equal(t, []string{"display_name"}, faulty(got))
	got = c.refused("POST", "/v1/members?member_number=M-0099", "{}", 400, "INVALID_ARGUMENT", "FIELD_INVALID")
	require.Equal(t, []string{"member_number"}, faulty(got))
	c.refused("GET", "/v1/unpriced?page_size=many", "", 400, "INVALID_ARGUMENT", "FIELD_INVALID")
	for path, field := range map[string]string{"/v1/members/%FF": "path", "/v1/members/M-0012%00": "path", "/v1/unpriced?member=%FE": "member", "/v1/tickets/%FF/ticket.pdf": "path"} {
		require.Equal(t, []string{field}, faulty(c.refused("GET", path, "", 400, "INVALID_ARGUMENT", "FIELD_INVALID")), path)
	}
	require.Empty(t, w.House.Asked(&settlementv1.ListUnpricedRequest{}))

	answer, _ := c.send("GET", "/v1/unpriced?pageSize=7&page_token=", "")
	require.Equal(t, http.StatusOK, answer.StatusCode)
	asked, ok := w.House.Asked(&settlementv1.ListUnpricedRequest{})[0].Request.(*settlementv1.ListUnpricedRequest)
	require.True(t, ok)
	require.Equal(t, int32(7), asked.GetPageSize())
}

func TestMapping_PathsAndMethodsThatAreNot(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	c := callerOf(t, w, w.Token("office1"))
	c.refused("GET", "/v1/nothing", "", 404, "NOT_FOUND", "NOT_FOUND")
	c.refused("GET", "/v1/members/", "", 404, "NOT_FOUND", "NOT_FOUND")
	c.refused("DELETE", "/v1/members/M-0012", "", 405, "UNIMPLEMENTED", "FIELD_INVALID")
	c.refused("POST", "/v1/stock:summarize", "{}", 405, "UNIMPLEMENTED", "FIELD_INVALID")
	for _, read := range []proto.Message{&intakev1.GetMemberRequest{}, &gradingv1.GetSampleRequest{}, &inventoryv1.SummarizeStockRequest{}} {
		require.Empty(t, w.House.Asked(read))
	}
}
