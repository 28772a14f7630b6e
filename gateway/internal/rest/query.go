package rest

import (
	"fmt"
	"net/http"
	"strings"

	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/genproto/googleapis/api/annotations"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// queryRules knows the request of each mapped path, "GET /v1/{name=members/*}". It is read from the same option the
// mapping is generated from.
type queryRules map[string]protoreflect.MessageDescriptor

func newQueryRules() queryRules {
	rules := queryRules{}
	for _, rpc := range access.Matrix() {
		http, ok := proto.GetExtension(rpc.Descriptor.Options(), annotations.E_Http).(*annotations.HttpRule)
		if !ok || http == nil {
			continue
		}
		// Only requests without a body take parameters.
		if get := http.GetGet(); get != "" {
			rules["GET "+get] = rpc.Descriptor.Input()
		}
	}
	return rules
}

// check refuses parameters the request does not have. Ignoring them would answer another question than was asked:
// "?memeber=…" would list everybody's.
func (rules queryRules) check(next runtime.HandlerFunc) runtime.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request, pathParams map[string]string) {
		pattern, _ := runtime.HTTPPattern(r.Context())
		if err := rules.fault(r, pattern.String()); err != nil {
			writeError(w, r, err)
			return
		}
		next(w, r, pathParams)
	}
}

func (rules queryRules) fault(r *http.Request, pattern string) error {
	request := rules[r.Method+" "+pattern]
	var faults []apierr.Fault
	for name, values := range r.URL.Query() {
		field := fieldOf(request, name)
		switch {
		case field == nil:
			faults = append(faults, apierr.Fault{Field: name, Message: "is not a parameter of this request; see /v1/openapi.json"})
		case len(values) > 1 && !field.IsList():
			faults = append(faults, apierr.Fault{Field: name, Message: fmt.Sprintf("is given %d times", len(values))})
		}
	}
	return apierr.Fields(faults...)
}

func fieldOf(request protoreflect.MessageDescriptor, name string) protoreflect.FieldDescriptor {
	if request == nil {
		return nil
	}
	first, _, _ := strings.Cut(name, ".")
	if field := request.Fields().ByName(protoreflect.Name(first)); field != nil {
		return field
	}
	return request.Fields().ByJSONName(first)
}
