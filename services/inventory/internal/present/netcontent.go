package present

import (
	"google.golang.org/protobuf/types/known/timestamppb"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/netcontent"
)

// NetUnitPrefix stands before a unit in the enum.
const NetUnitPrefix = "NET_UNIT_"

// NetCheck shows a net content check.
func NetCheck(c lots.NetCheck) *inventoryv1.NetContentCheck {
	m := &inventoryv1.NetContentCheck{
		Name: lots.NetCheckName(c.ID), PackLot: string(lots.Of(lots.Pack, c.Run)),
		Unit:     inventoryv1.NetUnit(inventoryv1.NetUnit_value[NetUnitPrefix+string(c.Unit)]),
		Declared: c.Declared.String(), LotSize: c.Lot, Average: c.Average.String(), StandardDeviation: c.Deviation.String(),
		SampleErrorLimit: c.Limit.String(), MaxAllowableVariation: c.Variation.String(),
		PackagesShort: int32(c.Short), PackagesShortAllowed: int32(c.ShortAllowed), //nolint:gosec // a sample has at most 48
		AveragePassed: c.AverageKept, VariationPassed: c.ShortKept(), Passed: c.Passed(), Sentences: c.Sentences,
		Checker: c.Checker, CheckTime: timestamppb.New(c.Time),
	}
	for _, w := range c.Weights {
		m.NetWeights = append(m.NetWeights, w.String())
	}
	for _, w := range c.Tares {
		m.TareWeights = append(m.TareWeights, w.String())
	}
	if len(c.Tares) > 0 {
		m.Tare = netcontent.Tare(c.Tares).String()
	}
	if c.Release != nil {
		m.Releaser, m.ReleaseReason, m.ReleaseTime = c.Release.Releaser, c.Release.Reason, timestamppb.New(c.Release.Time)
	}
	return m
}
