package e2e

import (
	"encoding/json"
	"fmt"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/api/annotations"
	"google.golang.org/protobuf/proto"

	"barrelhead.example/deploy/season"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	"barrelhead.example/services/kit/access"
)

// TestRolesThroughGateway calls every RPC that has a path under /v1 as every kind of login. Whoever the proto does not
// name is refused as not allowed; whoever it names is not. The services' own tests say the same without the gateway.
func TestRolesThroughGateway(t *testing.T) {
	t.Parallel()
	w := newWorld(t, season.Size{Members: 2})
	sessions := map[accessv1.Role]*season.Session{
		accessv1.Role_ROLE_ADMINISTRATOR: w.session(t, "admin"),
		accessv1.Role_ROLE_MEMBER:        w.session(t, "m-0001"),
	}
	status, answer, err := sessions[accessv1.Role_ROLE_ADMINISTRATOR].Send(t.Context(), http.MethodPost, "/v1/logins",
		fmt.Appendf(nil, `{"login": "probe7", "password": %q, "roles": ["LOGGER"]}`, season.Password))
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, status, "%s", answer)
	sessions[accessv1.Role_ROLE_LOGGER] = w.session(t, "probe7")
	for _, staff := range season.Staff {
		sessions[accessv1.Role(accessv1.Role_value["ROLE_"+staff.Role])] = w.session(t, staff.Login)
	}
	tried := 0
	for _, rule := range access.Matrix() {
		method, path := binding(rule)
		if path == "" || rule.Allow.GetPublic() {
			continue
		}
		for role, session := range sessions {
			status, answer, err := session.Send(t.Context(), method, path, body(method))
			require.NoError(t, err)
			allowed := rule.Permits([]accessv1.Role{role})
			require.Equal(t, allowed, !refusedRole(status, answer), "%s as %s: HTTP %d %s", rule.Method, role, status, answer)
			tried++
		}
	}
	require.Greater(t, tried, 300)
}

func body(method string) []byte {
	if method == http.MethodGet {
		return nil
	}
	return []byte(`{}`)
}

func refusedRole(status int, answer []byte) bool {
	var got struct {
		Error struct {
			Reason string `json:"reason"`
		} `json:"error"`
	}
	return status == http.StatusForbidden && json.Unmarshal(answer, &got) == nil && got.Error.Reason == "NOT_ALLOWED"
}

var variable = regexp.MustCompile(`\{[^}=]*(=([^}]*))?\}`)

// binding is the HTTP method and a path that matches the pattern of an RPC.
func binding(rule access.Rule) (string, string) {
	options := rule.Descriptor.Options()
	if !proto.HasExtension(options, annotations.E_Http) {
		return "", ""
	}
	http_, ok := proto.GetExtension(options, annotations.E_Http).(*annotations.HttpRule)
	if !ok {
		return "", ""
	}
	method, pattern := http.MethodGet, http_.GetGet()
	if pattern == "" {
		method, pattern = http.MethodPost, http_.GetPost()
	}
	path := variable.ReplaceAllStringFunc(pattern, func(v string) string {
		form := variable.FindStringSubmatch(v)[2]
		if form == "" {
			return "2026" // a plain variable may be a number, and a number is also a text
		}
		return strings.ReplaceAll(form, "*", "00000000-0000-4000-8000-000000000000")
	})
	return method, path
}
