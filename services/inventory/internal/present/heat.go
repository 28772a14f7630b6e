package present

import (
	"google.golang.org/protobuf/types/known/timestamppb"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/heat"
)

// Heat shows what warming cost a place.
func Heat(place string, a heat.Account) *inventoryv1.Heat {
	m := &inventoryv1.Heat{Name: place, UsedPercent: a.Used.String(), Unknown: a.Unknown}
	m.CarriedPercent, m.UnknownSources = a.Carried.String(), a.UnknownSources
	if a.Warmest != nil {
		m.WarmestCelsius = a.Warmest.String()
	}
	for _, one := range a.Alarms {
		alarm := &inventoryv1.HeatAlarm{
			Kind: inventoryv1.HeatAlarmKind(inventoryv1.HeatAlarmKind_value["HEAT_ALARM_KIND_"+string(one.Kind)]), Probe: one.Probe, Sentence: one.Sentence,
		}
		if one.Stay != "" {
			alarm.Stay, alarm.FromTime, alarm.ToTime = "heatStays/"+one.Stay, timestamppb.New(one.From), timestamppb.New(one.To)
		}
		m.Alarms = append(m.Alarms, alarm)
	}
	return m
}

// HeatAllowance shows what somebody said of a stay.
func HeatAllowance(a heat.Allowance) *inventoryv1.HeatAllowance {
	return &inventoryv1.HeatAllowance{
		Name: a.Name(), Stay: "heatStays/" + a.Stay, LimitCelsius: a.Limit.String(), Reason: a.Reason, Allower: a.Allower, AllowTime: timestamppb.New(a.Time),
		Opener: a.Opener,
	}
}

// Temperatures shows a log.
func Temperatures(l heat.Log) *inventoryv1.TemperatureLog {
	m := &inventoryv1.TemperatureLog{
		Stay: "heatStays/" + l.ID, Probe: l.Probe, LimitCelsius: l.Limit.String(), SecondPerson: l.Typed, SecondReason: l.Why, Opener: l.Opener,
	}
	if second := l.Second(); second != nil {
		m.SecondPerson, m.SecondReason = second.Allower, second.Reason
	}
	for _, a := range l.Allowances {
		m.Allowances = append(m.Allowances, HeatAllowance(a))
	}
	for _, r := range l.Readings {
		m.Readings = append(m.Readings, &inventoryv1.TemperatureReading{Time: timestamppb.New(r.Time), Celsius: r.Celsius.String()})
	}
	return m
}
