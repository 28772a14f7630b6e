package rpcserve_test

import (
	"context"
	"fmt"

	validate "buf.build/gen/go/bufbuild/protovalidate/protocolbuffers/go/buf/validate"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protodesc"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
	"google.golang.org/protobuf/types/descriptorpb"
	"google.golang.org/protobuf/types/dynamicpb"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
)

// The tests serve a service of their own, described here, so that they depend on no contract of the suite.
const (
	kitService    = "barrelhead.kittest.v1.KitService"
	bareService   = "barrelhead.kittest.v1.BareService"
	brokenService = "barrelhead.kittest.v1.BrokenService"

	weighMethod  = "/" + kitService + "/Weigh"
	ownMethod    = "/" + kitService + "/Own"
	openMethod   = "/" + kitService + "/Open"
	followMethod = "/" + kitService + "/Follow"
)

var requestType, answerType = describe()

func describe() (request, answer protoreflect.MessageDescriptor) {
	broken := method("Weigh", false, &accessv1.Allow{Public: true})
	broken.InputType = proto.String(".barrelhead.kittest.v1.Broken")
	file := &descriptorpb.FileDescriptorProto{
		Name: proto.String("barrelhead/kittest/v1/kit.proto"), Package: proto.String("barrelhead.kittest.v1"),
		Syntax:     proto.String("proto3"),
		Dependency: []string{"barrelhead/access/v1/access.proto", "buf/validate/validate.proto"},
		MessageType: []*descriptorpb.DescriptorProto{
			{Name: proto.String("Request"), Field: requestFields()},
			{Name: proto.String("Answer"), Field: []*descriptorpb.FieldDescriptorProto{text("text", 1, nil)}},
			{Name: proto.String("BadExpression"), Field: []*descriptorpb.FieldDescriptorProto{text("drum", 1, &validate.FieldRules{
				Cel: []*validate.Rule{{Id: proto.String("drum"), Expression: proto.String("this.no_such_field > 0")}},
			})}},
			{Name: proto.String("BadPattern"), Field: []*descriptorpb.FieldDescriptorProto{text("drum", 1, &validate.FieldRules{
				Type: &validate.FieldRules_String_{String_: &validate.StringRules{Pattern: proto.String("^(BH")}},
			})}},
			{Name: proto.String("Broken"), Field: []*descriptorpb.FieldDescriptorProto{
				holding("expression", 1, "BadExpression"), holding("pattern", 2, "BadPattern"), holding("itself", 3, "Broken"),
			}},
		},
		Service: []*descriptorpb.ServiceDescriptorProto{
			{Name: proto.String("KitService"), Method: []*descriptorpb.MethodDescriptorProto{
				method("Weigh", false, &accessv1.Allow{Roles: []accessv1.Role{accessv1.Role_ROLE_DOCK, accessv1.Role_ROLE_SERVICE}}),
				method("Own", false, &accessv1.Allow{
					Roles: []accessv1.Role{accessv1.Role_ROLE_OFFICE, accessv1.Role_ROLE_MEMBER}, OwnMemberOnly: true,
				}),
				method("Open", false, &accessv1.Allow{Public: true}),
				method("Follow", true, &accessv1.Allow{Roles: []accessv1.Role{accessv1.Role_ROLE_DOCK}}),
			}},
			{Name: proto.String("BareService"), Method: []*descriptorpb.MethodDescriptorProto{method("Undeclared", false, nil)}},
			{Name: proto.String("BrokenService"), Method: []*descriptorpb.MethodDescriptorProto{broken}},
		},
	}
	described, err := protodesc.NewFile(file, protoregistry.GlobalFiles)
	if err == nil {
		err = protoregistry.GlobalFiles.RegisterFile(described)
	}
	if err != nil {
		panic(err)
	}
	return described.Messages().ByName("Request"), described.Messages().ByName("Answer")
}

func requestFields() []*descriptorpb.FieldDescriptorProto {
	rule := func(r *validate.StringRules) *validate.FieldRules {
		return &validate.FieldRules{Type: &validate.FieldRules_String_{String_: r}}
	}
	number := text("count", 4, &validate.FieldRules{Type: &validate.FieldRules_Int32{
		Int32: &validate.Int32Rules{GreaterThan: &validate.Int32Rules_Gte{Gte: 0}, LessThan: &validate.Int32Rules_Lte{Lte: 9}},
	}})
	number.Type = descriptorpb.FieldDescriptorProto_TYPE_INT32.Enum()
	return []*descriptorpb.FieldDescriptorProto{
		text("drum", 1, rule(&validate.StringRules{MinLen: proto.Uint64(1)})),
		text("gross_value", 2, rule(&validate.StringRules{Pattern: proto.String(`^-?[0-9]{1,12}([.][0-9]{1,3})?$`)})),
		text("unit", 3, rule(&validate.StringRules{In: []string{"LB", "KG"}})),
		number,
	}
}

func text(name string, number int32, rules *validate.FieldRules) *descriptorpb.FieldDescriptorProto {
	options := &descriptorpb.FieldOptions{}
	if rules != nil {
		proto.SetExtension(options, validate.E_Field, rules)
	}
	return &descriptorpb.FieldDescriptorProto{
		Name: proto.String(name), JsonName: proto.String(name), Number: proto.Int32(number), Options: options,
		Label: descriptorpb.FieldDescriptorProto_LABEL_OPTIONAL.Enum(), Type: descriptorpb.FieldDescriptorProto_TYPE_STRING.Enum(),
	}
}

// holding is a field that may hold another message of the file.
func holding(name string, number int32, message string) *descriptorpb.FieldDescriptorProto {
	field := text(name, number, nil)
	field.Type = descriptorpb.FieldDescriptorProto_TYPE_MESSAGE.Enum()
	field.TypeName = proto.String(".barrelhead.kittest.v1." + message)
	return field
}

func method(name string, streams bool, allow *accessv1.Allow) *descriptorpb.MethodDescriptorProto {
	options := &descriptorpb.MethodOptions{}
	if allow != nil {
		proto.SetExtension(options, accessv1.E_Allow, allow)
	}
	return &descriptorpb.MethodDescriptorProto{
		Name: proto.String(name), InputType: proto.String(".barrelhead.kittest.v1.Request"),
		OutputType: proto.String(".barrelhead.kittest.v1.Answer"), ServerStreaming: proto.Bool(streams), Options: options,
	}
}

// kit is the implementation: what each test wants a handler to do.
type kit struct {
	unary  func(ctx context.Context, req protoreflect.Message) (string, error)
	stream func(stream grpc.ServerStream) error
}

func (k kit) register(r grpc.ServiceRegistrar) {
	r.RegisterService(&grpc.ServiceDesc{
		ServiceName: kitService, HandlerType: (*any)(nil), Metadata: "barrelhead/kittest/v1/kit.proto",
		Methods: []grpc.MethodDesc{k.method("Weigh"), k.method("Own"), k.method("Open")},
		Streams: []grpc.StreamDesc{{StreamName: "Follow", ServerStreams: true, Handler: func(_ any, stream grpc.ServerStream) error {
			if err := stream.RecvMsg(dynamicpb.NewMessage(requestType)); err != nil {
				return fmt.Errorf("receive: %w", err)
			}
			return k.stream(stream)
		}}},
	}, k)
}

func registerBare(r grpc.ServiceRegistrar) {
	r.RegisterService(&grpc.ServiceDesc{
		ServiceName: bareService, HandlerType: (*any)(nil), Methods: []grpc.MethodDesc{kit{}.method("Undeclared")},
	}, kit{})
}

func (k kit) method(name string) grpc.MethodDesc {
	return grpc.MethodDesc{MethodName: name, Handler: func(_ any, ctx context.Context, decode func(any) error, chain grpc.UnaryServerInterceptor) (any, error) {
		request := dynamicpb.NewMessage(requestType)
		if err := decode(request); err != nil {
			return nil, err
		}
		return chain(ctx, request, &grpc.UnaryServerInfo{FullMethod: "/" + kitService + "/" + name}, func(ctx context.Context, req any) (any, error) {
			said, err := k.unary(ctx, req.(*dynamicpb.Message))
			if err != nil {
				return nil, err
			}
			return answerOf(said), nil
		})
	}}
}

func answerOf(said string) *dynamicpb.Message {
	answer := dynamicpb.NewMessage(answerType)
	answer.Set(answerType.Fields().ByName("text"), protoreflect.ValueOfString(said))
	return answer
}

// weighing is a request without a fault, changed by pairs of field name and value.
func weighing(changes ...any) *dynamicpb.Message {
	request := dynamicpb.NewMessage(requestType)
	for i, all := 0, append([]any{"drum", "BH-00442", "gross_value", "642.5", "unit", "LB", "count", int32(1)}, changes...); i < len(all); i += 2 {
		request.Set(requestType.Fields().ByName(protoreflect.Name(all[i].(string))), protoreflect.ValueOf(all[i+1]))
	}
	return request
}

func call(ctx context.Context, conn grpc.ClientConnInterface, method string, request proto.Message, opts ...grpc.CallOption) (string, error) {
	answer := dynamicpb.NewMessage(answerType)
	err := conn.Invoke(ctx, method, request, answer, opts...)
	return answer.Get(answerType.Fields().ByName("text")).String(), err
}
