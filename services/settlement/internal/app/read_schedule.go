package app

import (
	"errors"
	"fmt"
	"strings"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain"
)

// faultList gathers the faults of a draft as it is read.
type faultList []apierr.Fault

func (f *faultList) note(path string, err error) {
	if err == nil {
		return
	}
	var w *wire.Fault
	if errors.As(err, &w) && w.Field() != "" {
		path += "." + w.Field()
	}
	*f = append(*f, apierr.Fault{Field: path, Message: err.Error()})
}

// readSchedule turns a draft of the wire into one of the domain. Everything unreadable, and everything the domain finds
// wrong with what could be read, is refused at once.
func (a *App) readSchedule(p *settlementv1.Schedule) (*domain.Schedule, error) {
	var f faultList
	s := &domain.Schedule{CropYear: int(p.GetCropYear())}
	var err error
	s.Effective, err = domain.ParseDate(p.GetEffectiveDate())
	f.note("schedule.effective_date", err)
	if p.GetMoistureRule() == nil {
		f.note("schedule.moisture_rule", errors.New("is missing; say up to which water the full weight is paid"))
		s.Moisture.Base = domain.USGradeABase
	} else {
		s.Moisture = a.readMoisture(p.GetMoistureRule(), &f)
	}
	for i, r := range p.GetRows() {
		advance, err := wire.PriceFromProto(r.GetAdvance(), a.Terms.Currency, a.Terms.Unit)
		f.note(fmt.Sprintf("schedule.rows[%d].advance", i), err)
		s.Rows = append(s.Rows, domain.PriceRow{Variety: r.GetVariety(), ColorClass: r.GetColorClass(), Grade: r.GetGrade(), Advance: advance})
	}
	for i, d := range p.GetDeductions() {
		s.Charges = append(s.Charges, a.readCharge(fmt.Sprintf("schedule.deductions[%d]", i), d, &f))
	}
	return s, refuse("schedule", f, s.Validate())
}

func (a *App) readMoisture(p *settlementv1.MoistureRule, f *faultList) domain.MoistureRule {
	base, err := quantity.ParsePercent(p.GetBasePercent())
	if err != nil {
		f.note("schedule.moisture_rule.base_percent", err)
		base = domain.USGradeABase
	}
	rule := domain.MoistureRule{Base: base}
	if p.GetStepPerTenth() != nil {
		rule.Step, err = wire.PriceFromProto(p.GetStepPerTenth(), a.Terms.Currency, a.Terms.Unit)
		f.note("schedule.moisture_rule.step_per_tenth", err)
	}
	return rule
}

func (a *App) readCharge(path string, p *settlementv1.DeductionRule, f *faultList) domain.Charge {
	c := domain.Charge{Code: p.GetCode(), Description: p.GetDescription(), Authority: p.GetAuthority(), Retained: p.GetRetained(), Basis: domain.Basis(p.GetBasis())}
	var err error
	if p.GetRate() != nil {
		c.Rate, err = wire.PriceFromProto(p.GetRate(), a.Terms.Currency, a.Terms.Unit)
		f.note(path+".rate", err)
	}
	if p.GetAmount() != nil {
		c.Amount, err = wire.EnteredFromProto(p.GetAmount(), a.Terms.Currency)
		f.note(path+".amount", err)
	}
	return c
}

// refuse joins both lists. A rule has nothing to add about a field that could not be read.
func refuse(prefix string, unreadable faultList, rules []domain.FieldFault) error {
	all := append(faultList{}, unreadable...)
	for _, r := range rules {
		path := strings.TrimPrefix(prefix+"."+r.Path, ".")
		if !unreadable.covers(path) {
			all = append(all, apierr.Fault{Field: path, Message: r.Message})
		}
	}
	return apierr.Fields(all...)
}

func (f faultList) covers(path string) bool {
	for _, u := range f {
		if u.Field == path || len(u.Field) > len(path) && u.Field[:len(path)+1] == path+"." {
			return true
		}
	}
	return false
}
