package rpc

import (
	"errors"
	"fmt"
	"strings"

	"github.com/google/uuid"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/inventory/internal/domain/blend"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
)

var errNegative = errors.New("must not be below zero")

// reader collects what is wrong with a request, so that all of it is reported at once.
type reader struct {
	unit     quantity.Unit
	currency string
	faults   []error
}

func (s *Server) reader() *reader { return &reader{unit: s.app.Unit, currency: s.app.Currency} }

func (r *reader) note(field string, err error) {
	if err != nil {
		r.faults = append(r.faults, wire.In(field, err))
	}
}

// err is all faults, or nil.
func (r *reader) err() error { return errors.Join(r.faults...) }

// id reads "collection/{uuid}".
func (r *reader) id(field, collection, name string) uuid.UUID {
	rest, ok := strings.CutPrefix(name, collection+"/")
	id, err := uuid.Parse(rest)
	if !ok || err != nil {
		r.note(field, fmt.Errorf("%.80q is not a name such as %s/{uuid}", name, collection))
	}
	return id
}

// optionalID is id, or the zero uuid for an empty name.
func (r *reader) optionalID(field, collection, name string) uuid.UUID {
	if name == "" {
		return uuid.Nil
	}
	return r.id(field, collection, name)
}

// word reads "collection/{id}".
func (r *reader) word(field, collection, name string) string {
	id, ok := strings.CutPrefix(name, collection+"/")
	if !ok || id == "" || strings.Contains(id, "/") {
		r.note(field, fmt.Errorf("%.80q is not a name such as %s/{id}", name, collection))
	}
	return id
}

// mass reads a weight of at least least thousandths.
func (r *reader) mass(field string, m *typev1.Mass, least quantity.Mass) quantity.Mass {
	v, err := wire.MassFromProto(m, r.unit)
	if err == nil && v < least {
		err = fmt.Errorf("is %s, must be at least %s", v.Say(r.unit), least.Say(r.unit))
	}
	r.note(field, err)
	return v
}

// optionalMass is mass above zero, or zero for none.
func (r *reader) optionalMass(field string, m *typev1.Mass) quantity.Mass {
	if m == nil {
		return 0
	}
	return r.mass(field, m, 1)
}

func (r *reader) percent(field, value string) *quantity.Percent {
	if value == "" {
		return nil
	}
	p, err := quantity.ParsePercent(value)
	if err == nil && (p < 0 || p > 100_00) {
		err = fmt.Errorf("%s is not from 0 to 100 percent", p)
	}
	r.note(field, err)
	return &p
}

// mostPfund is beyond any honey and keeps the arithmetic small.
const mostPfund = 1000_00

func (r *reader) pfund(field, value string) *blend.Pfund {
	if value == "" {
		return nil
	}
	mm, err := quantity.ParseFixed(value, 2)
	if err == nil && (mm < 0 || mm > mostPfund) {
		err = fmt.Errorf("%s is not from 0 to 1000 mm", value)
	}
	r.note(field, err)
	p := blend.Pfund(mm)
	return &p
}

func (r *reader) density(field, value string) *blend.Density {
	before := len(r.faults)
	mm := r.pfund(field, value)
	if mm == nil || len(r.faults) > before {
		return nil
	}
	d := blend.DensityOf(*mm)
	return &d
}

func (r *reader) rules(m *inventoryv1.ClaimRules) lots.Rules {
	out := lots.Rules{
		Variety: m.GetVariety(), MaxMoisture: r.percent("rules.max_moisture_percent", m.GetMaxMoisturePercent()),
		MinPfund: r.pfund("rules.min_pfund_mm", m.GetMinPfundMm()), MaxPfund: r.pfund("rules.max_pfund_mm", m.GetMaxPfundMm()),
	}
	if share := r.percent("rules.min_share_percent", m.GetMinSharePercent()); share != nil {
		out.MinShare = *share
		if out.Variety == "" {
			r.note("rules.variety", errors.New("is missing: a least share needs the floral source it is of"))
		}
	}
	return out
}
