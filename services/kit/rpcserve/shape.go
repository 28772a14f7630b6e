package rpcserve

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"buf.build/go/protovalidate"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	"barrelhead.example/services/kit/apierr"
)

// shape checks requests against the rules written in the proto files.
type shape struct{ validator protovalidate.Validator }

func (c *chain) shapeUnary(ctx context.Context, req any, _ *grpc.UnaryServerInfo, next grpc.UnaryHandler) (any, error) {
	if err := c.shape.check(req); err != nil {
		return nil, err
	}
	return next(ctx, req)
}

func (c *chain) shapeStream(srv any, stream grpc.ServerStream, _ *grpc.StreamServerInfo, next grpc.StreamHandler) error {
	return next(srv, checkedStream{stream, c.shape})
}

type checkedStream struct {
	grpc.ServerStream
	shape shape
}

func (s checkedStream) RecvMsg(m any) error {
	if err := s.ServerStream.RecvMsg(m); err != nil {
		return err // io.EOF must stay itself
	}
	return s.shape.check(m)
}

// check reports every fault of the request at once.
func (s shape) check(req any) error {
	message, ok := req.(proto.Message)
	if !ok {
		return apierr.Internal(fmt.Errorf("request is a %T, not a message", req))
	}
	err := s.validator.Validate(message)
	invalid, ok := errors.AsType[*protovalidate.ValidationError](err)
	if !ok {
		return err // nil, or a rule that does not compile: ours, translated to INTERNAL
	}
	faults := make([]apierr.Fault, 0, len(invalid.Violations))
	for _, v := range invalid.Violations {
		field := strings.Trim(protovalidate.FieldPathString(v.Proto.GetField()), `"`)
		faults = append(faults, apierr.Fault{Field: field, Message: inWords(v)})
	}
	return apierr.Fields(faults...)
}
