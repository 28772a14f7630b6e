package rpcserve

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"buf.build/go/protovalidate"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protopath"
	"google.golang.org/protobuf/reflect/protorange"

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
	faults := unstorable(message)
	err := s.validator.Validate(message)
	invalid, ok := errors.AsType[*protovalidate.ValidationError](err)
	if err != nil && !ok {
		return err // a rule that does not compile: ours, translated to INTERNAL
	}
	if ok {
		for _, v := range invalid.Violations {
			field := strings.Trim(protovalidate.FieldPathString(v.Proto.GetField()), `"`)
			faults = append(faults, apierr.Fault{Field: field, Message: inWords(v)})
		}
	}
	return apierr.Fields(faults...) // nil for none
}

// unstorable names the texts with a NUL, which no text in PostgreSQL can hold (its documentation, section 8.3). No rule of a
// proto file needs to say so.
func unstorable(message proto.Message) (faults []apierr.Fault) {
	// The only error is that of the function given.
	_ = protorange.Range(message.ProtoReflect(), func(at protopath.Values) error {
		if text, ok := at.Index(-1).Value.Interface().(string); ok && strings.ContainsRune(text, 0) {
			field := strings.TrimPrefix(at.Path[1:].String(), ".")
			faults = append(faults, apierr.Fault{Field: field, Message: "must not hold a NUL character"})
		}
		return nil
	})
	return faults
}
