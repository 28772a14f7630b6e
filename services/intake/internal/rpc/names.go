package rpc

import (
	"errors"
	"fmt"
	"regexp"
	"strings"
	"time"

	"github.com/google/uuid"
	"google.golang.org/protobuf/types/known/timestamppb"

	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
)

// fields reads the parts of a request and keeps every fault, so that a caller learns of all at once.
type fields struct{ faults []apierr.Fault }

func (f *fields) err() error { return apierr.Fields(f.faults...) }

func (f *fields) fault(field, format string, args ...any) {
	f.faults = append(f.faults, apierr.Fault{Field: field, Message: fmt.Sprintf(format, args...)})
}

// id reads "tickets/{uuid}" and the like.
func (f *fields) id(field, collection, name string) uuid.UUID {
	text, found := strings.CutPrefix(name, collection+"/")
	id, err := uuid.Parse(text)
	if !found || err != nil || len(text) != len(uuid.Nil.String()) {
		f.fault(field, "%q is not a name such as %s/{uuid}", name, collection)
	}
	return id
}

// optionalID reads a bare UUID made by the caller; uuid.Nil when there is none.
func (f *fields) optionalID(field, text string) uuid.UUID {
	if text == "" {
		return uuid.Nil
	}
	id, err := uuid.Parse(text)
	if err != nil || id == uuid.Nil {
		f.fault(field, "%q is not a UUID", text)
	}
	return id
}

var (
	memberName = regexp.MustCompile(`^members/(M-[0-9]{4,6})$`)
	scaleName  = regexp.MustCompile(`^scales/([A-Za-z0-9-]{1,20})$`)
	drumName   = regexp.MustCompile(`^drums/([A-Z0-9-]{2,32})$`)
)

func (f *fields) name(field string, form *regexp.Regexp, name, example string) string {
	found := form.FindStringSubmatch(name)
	if found == nil {
		f.fault(field, "%q is not a name such as %s", name, example)
		return ""
	}
	return found[1]
}

func (f *fields) member(field, name string) string {
	return f.name(field, memberName, name, "members/M-0001")
}

func (f *fields) scale(name string) string { return f.name("scale", scaleName, name, "scales/1") }

var captureName = regexp.MustCompile(`^scales/([A-Za-z0-9-]{1,20})/indications/([0-9a-f-]{36})$`)

// capture reads the name of a weight captured on a scale; uuid.Nil for none.
func (f *fields) capture(name, scale string) uuid.UUID {
	if name == "" {
		return uuid.Nil
	}
	found := captureName.FindStringSubmatch(name)
	if found == nil {
		f.fault("indication", "%q is not a name such as scales/1/indications/{uuid}", name)
		return uuid.Nil
	}
	if found[1] != scale {
		f.fault("indication", "this weight was taken from scale %s, but the barrel is said to stand on scale %s", found[1], scale)
	}
	return f.optionalID("indication", found[2])
}

// gross may be left out where a captured weight says it.
func (f *fields) gross(m *typev1.Mass, unit quantity.Unit, capture uuid.UUID) quantity.Mass {
	if m == nil && capture != uuid.Nil {
		return 0
	}
	return f.mass("gross", m, unit)
}

func (f *fields) drum(field, name string) string {
	return f.name(field, drumName, name, "drums/FC-04417")
}

func (f *fields) mass(field string, m *typev1.Mass, unit quantity.Unit) quantity.Mass {
	v, err := wire.MassFromProto(m, unit)
	if err != nil {
		f.wireFault(field, err)
	}
	return v
}

// instant is zero for none.
func instant(t *timestamppb.Timestamp) time.Time {
	if t == nil {
		return time.Time{}
	}
	return t.AsTime()
}

func (f *fields) wireFault(field string, err error) {
	if inner, ok := errors.AsType[*wire.Fault](wire.In(field, err)); ok {
		field = inner.Field()
	}
	f.fault(field, "%s", err)
}
