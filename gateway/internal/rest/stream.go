package rest

import (
	"context"
	"encoding/json"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	statuspb "google.golang.org/genproto/googleapis/rpc/status"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	"barrelhead.example/gateway/internal/edge"
	"barrelhead.example/services/kit/apierr"
)

// marshaler writes messages with the names of the contracts, and the refusal of a stream in the one shape all have.
type marshaler struct{ *runtime.JSONPb }

func newMarshaler() marshaler {
	return marshaler{&runtime.JSONPb{
		// Empty lists and zeros are written, so that a reader need not know defaults; absent messages are not.
		MarshalOptions: protojson.MarshalOptions{EmitDefaultValues: true, UseProtoNames: true},
	}}
}

// Marshal writes v.
func (m marshaler) Marshal(v any) ([]byte, error) {
	chunk, _ := v.(map[string]proto.Message)
	if st, refused := chunk["error"].(*statuspb.Status); refused {
		refusal := status.FromProto(st)
		return json.Marshal(map[string]Refusal{"error": explain(refusal, requestIDOf(refusal))})
	}
	return m.JSONPb.Marshal(v)
}

// onStreamError hands the request id on inside the status: the mapper lets a stream's refusal carry nothing else.
func onStreamError(ctx context.Context, err error) *status.Status {
	st := status.Convert(apierr.From(err))
	detailed, err := st.WithDetails(&errdetails.RequestInfo{RequestId: edge.RequestID(ctx)})
	if err != nil {
		return st
	}
	return detailed
}

func requestIDOf(st *status.Status) string {
	for _, detail := range st.Details() {
		if info, ok := detail.(*errdetails.RequestInfo); ok {
			return info.GetRequestId()
		}
	}
	return ""
}
