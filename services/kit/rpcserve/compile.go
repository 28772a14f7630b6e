package rpcserve

import (
	"errors"
	"fmt"
	"sort"

	"buf.build/go/protovalidate"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/dynamicpb"

	"barrelhead.example/services/kit/access"
)

// compile prepares the rules of every message the RPCs take. The library would do so at the first call, and a rule that
// does not compile would be met by whoever calls first. Every faulty message is named at once.
func (s shape) compile(methods map[string]access.Rule) error {
	taken := map[protoreflect.FullName]protoreflect.MessageDescriptor{}
	for _, rule := range methods {
		collect(rule.Descriptor.Input(), taken)
	}
	var faults []error
	for name, described := range taken {
		if err := s.compiles(described); err != nil {
			faults = append(faults, fmt.Errorf("rules of %s: %w", name, err))
		}
	}
	sort.Slice(faults, func(i, j int) bool { return faults[i].Error() < faults[j].Error() })
	return errors.Join(faults...)
}

// compiles validates an empty message: that it lacks something is no fault, that its rules cannot be applied is one.
func (s shape) compiles(described protoreflect.MessageDescriptor) error {
	err := s.validator.Validate(dynamicpb.NewMessage(described))
	if _, lacking := errors.AsType[*protovalidate.ValidationError](err); lacking {
		return nil
	}
	return err
}

// collect adds the message and all it may hold. The library reports the faults of a message inside another one only
// where it is set, so each is asked for by itself.
func collect(m protoreflect.MessageDescriptor, into map[protoreflect.FullName]protoreflect.MessageDescriptor) {
	if _, known := into[m.FullName()]; known {
		return
	}
	into[m.FullName()] = m
	for i := range m.Fields().Len() {
		if inner := m.Fields().Get(i).Message(); inner != nil {
			collect(inner, into)
		}
	}
}
