package rest

import (
	"context"
	"fmt"
	"net/http"
	"regexp"
	"strings"
	"time"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/genproto/googleapis/api/annotations"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"barrelhead.example/gateway/internal/edge"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/clock"
)

const (
	// longest bounds a call; the services answer in milliseconds or not at all.
	longest = 30 * time.Second
	// longestStream bounds a stream; its reader opens another, and shows its session anew by that.
	longestStream = 10 * time.Minute
)

// routes knows the RPC behind each mapped path, "GET /v1/{name=members/*}". It is read from the same option the mapping
// is generated from.
type routes struct {
	rpcs map[string]access.Rule
	// life ends the streams when the gateway drains.
	life context.Context
}

func newRoutes(life context.Context) *routes {
	known := &routes{rpcs: map[string]access.Rule{}, life: life}
	for _, rpc := range access.Matrix() {
		http, ok := proto.GetExtension(rpc.Descriptor.Options(), annotations.E_Http).(*annotations.HttpRule)
		if !ok || http == nil {
			continue
		}
		// An RPC about several kinds of things has a path for each.
		for _, binding := range append([]*annotations.HttpRule{http}, http.GetAdditionalBindings()...) {
			if path := binding.GetGet(); path != "" {
				known.rpcs["GET "+fullPattern(path)] = rpc
				continue
			}
			known.rpcs["POST "+fullPattern(binding.GetPost())] = rpc
		}
	}
	return known
}

var bareVariable = regexp.MustCompile(`\{([a-z_]+)\}`)

// fullPattern writes "{year}" as the mapper does, "{year=*}".
func fullPattern(path string) string { return bareVariable.ReplaceAllString(path, "{$1=*}") }

// check stands before every mapped RPC: who may come without a session, what may be asked, and for how long.
func (known *routes) check(next runtime.HandlerFunc) runtime.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request, pathParams map[string]string) {
		pattern, _ := runtime.HTTPPattern(r.Context())
		rpc, mapped := known.rpcs[r.Method+" "+pattern.String()]
		if !mapped {
			// Without its rule nothing may pass.
			onRouting(r.Context(), nil, nil, w, r, http.StatusNotFound)
			return
		}
		if _, signedIn := edge.VisitorFrom(r.Context()); !signedIn && !rpc.Allow.GetPublic() {
			writeError(w, r, strangerFrom(r.Context()))
			return
		}
		if err := queryFault(r, rpc); err != nil {
			writeError(w, r, err)
			return
		}
		ctx, cancel := known.bound(r.Context(), w, rpc)
		defer cancel()
		next(w, r.WithContext(ctx), pathParams)
	}
}

// bound gives a call its time. A stream may outlive the write timeout of the server, but not the gateway.
func (known *routes) bound(ctx context.Context, w http.ResponseWriter, rpc access.Rule) (context.Context, context.CancelFunc) {
	if !rpc.Descriptor.IsStreamingServer() {
		return context.WithTimeout(ctx, longest)
	}
	ctx, cancel := context.WithTimeout(ctx, longestStream)
	stop := context.AfterFunc(known.life, cancel)
	// A connection that cannot take a deadline keeps the server's: the stream is then shorter.
	_ = http.NewResponseController(w).SetWriteDeadline(clock.System.Now().Add(longestStream))
	return ctx, func() { stop(); cancel() }
}

// queryFault refuses parameters the request does not have. Ignoring them would answer another question than was asked:
// "?memeber=…" would list everybody's.
func queryFault(r *http.Request, rpc access.Rule) error {
	var faults []apierr.Fault
	for name, values := range r.URL.Query() {
		field := fieldOf(r, rpc, name)
		switch {
		case field == nil:
			faults = append(faults, apierr.Fault{Field: name, Message: "is not a parameter of this request; see /v1/openapi.json"})
		case len(values) > 1 && !field.IsList():
			faults = append(faults, apierr.Fault{Field: name, Message: fmt.Sprintf("is given %d times", len(values))})
		}
	}
	return apierr.Fields(faults...)
}

// fieldOf finds a parameter; only requests without a body take any.
func fieldOf(r *http.Request, rpc access.Rule, name string) protoreflect.FieldDescriptor {
	if r.Method != http.MethodGet {
		return nil
	}
	fields := rpc.Descriptor.Input().Fields()
	first, _, _ := strings.Cut(name, ".")
	if field := fields.ByName(protoreflect.Name(first)); field != nil {
		return field
	}
	return fields.ByJSONName(first)
}
