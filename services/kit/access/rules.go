package access

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
)

// Rule is one RPC and who may call it.
type Rule struct {
	// Method is the full name as gRPC writes it, "/barrelhead.intake.v1.IntakeService/CloseTicket".
	Method string
	// Service is "barrelhead.intake.v1.IntakeService".
	Service string
	// Allow is nil when the RPC declares nobody.
	Allow *accessv1.Allow
	// Descriptor describes the RPC.
	Descriptor protoreflect.MethodDescriptor
}

// Permits reports whether one of roles suffices.
func (r Rule) Permits(roles []accessv1.Role) bool {
	if r.Allow == nil {
		return false
	}
	return r.Allow.GetPublic() || slices.ContainsFunc(roles, func(role accessv1.Role) bool {
		return slices.Contains(r.Allow.GetRoles(), role)
	})
}

// Narrow returns a as it acts in this RPC. Where members see only their own, the roles that are no ground for the call
// fall away: a member who also works the dock must not read a neighbour's statement because of the dock role.
func (r Rule) Narrow(a Actor) Actor {
	if !r.Allow.GetOwnMemberOnly() {
		return a
	}
	a.Roles = slices.DeleteFunc(slices.Clone(a.Roles), func(role accessv1.Role) bool {
		return !slices.Contains(r.Allow.GetRoles(), role)
	})
	return a
}

// Declared returns the rules of the named gRPC service, in the order of the proto file. Every undeclared RPC is named
// in one error.
func Declared(service string) ([]Rule, error) {
	found, err := protoregistry.GlobalFiles.FindDescriptorByName(protoreflect.FullName(service))
	if err != nil {
		return nil, fmt.Errorf("describe %s: %w", service, err)
	}
	described, ok := found.(protoreflect.ServiceDescriptor)
	if !ok {
		return nil, fmt.Errorf("describe %s: not a service", service)
	}
	rules := rulesOf(described)
	var missing []string
	for _, r := range rules {
		if len(r.Allow.GetRoles()) == 0 && !r.Allow.GetPublic() {
			missing = append(missing, r.Method)
		}
	}
	if len(missing) > 0 {
		return nil, fmt.Errorf("no callers declared by (barrelhead.access.v1.allow) on %s", strings.Join(missing, ", "))
	}
	return rules, nil
}

// Matrix lists every RPC of every barrelhead service linked into the program, by method, declared or not.
func Matrix() []Rule {
	var rules []Rule
	protoregistry.GlobalFiles.RangeFiles(func(file protoreflect.FileDescriptor) bool {
		if !Ours(string(file.Package())) {
			return true
		}
		for i := range file.Services().Len() {
			rules = append(rules, rulesOf(file.Services().Get(i))...)
		}
		return true
	})
	sort.Slice(rules, func(i, j int) bool { return rules[i].Method < rules[j].Method })
	return rules
}

// Ours reports whether a proto package or service is of this suite, as opposed to health or reflection.
func Ours(name string) bool {
	return strings.HasPrefix(name, "barrelhead.")
}

// Roles lists every role that can be granted.
func Roles() []accessv1.Role {
	values := accessv1.Role(0).Descriptor().Values()
	var roles []accessv1.Role
	for i := range values.Len() {
		if role := accessv1.Role(values.Get(i).Number()); role != accessv1.Role_ROLE_UNSPECIFIED {
			roles = append(roles, role)
		}
	}
	return roles
}

func rulesOf(service protoreflect.ServiceDescriptor) []Rule {
	methods := service.Methods()
	rules := make([]Rule, 0, methods.Len())
	for i := range methods.Len() {
		method := methods.Get(i)
		rules = append(rules, Rule{
			Method:     fmt.Sprintf("/%s/%s", service.FullName(), method.Name()),
			Service:    string(service.FullName()),
			Allow:      allowOf(method),
			Descriptor: method,
		})
	}
	return rules
}

func allowOf(method protoreflect.MethodDescriptor) *accessv1.Allow {
	options := method.Options()
	if !proto.HasExtension(options, accessv1.E_Allow) {
		return nil
	}
	allow, _ := proto.GetExtension(options, accessv1.E_Allow).(*accessv1.Allow)
	return allow
}
