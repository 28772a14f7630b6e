package rpc

import (
	"errors"
	"fmt"
	"time"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/blend"
	"barrelhead.example/services/inventory/internal/domain/heat"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
)

func (r *reader) order(place string, o *inventoryv1.BlendOrder) blend.Order {
	out := blend.Order{
		ID: o.GetId(), Variety: o.GetVariety(), AgedCropYear: o.GetAgedCropYear(), MaxMembers: int64(o.GetMaxMembers()),
		PartBarrel: o.GetPartBarrel(),
	}
	before := len(r.faults)
	var err error
	out.MinWeight, err = wire.MassFromProto(o.GetMinWeight(), r.unit)
	r.note(place+"min_weight", err)
	out.MaxWeight, err = wire.MassFromProto(o.GetMaxWeight(), r.unit)
	r.note(place+"max_weight", err)
	out.MinMoisture = r.percent(place+"min_moisture_percent", o.GetMinMoisturePercent())
	out.MaxMoisture = r.percent(place+"max_moisture_percent", o.GetMaxMoisturePercent())
	out.MinDensity = r.density(place+"min_pfund_mm", o.GetMinPfundMm())
	out.MaxDensity = r.density(place+"max_pfund_mm", o.GetMaxPfundMm())
	if share := r.percent(place+"min_share_percent", o.GetMinSharePercent()); share != nil {
		out.MinShare = *share
	}
	if o.MaxAgedBarrels != nil {
		aged := int64(o.GetMaxAgedBarrels())
		out.MaxAged = &aged
	}
	r.hmf(place, o, &out)
	r.groups(place, o, &out)
	if o.GetPrice() != nil {
		out.Price, err = wire.PriceFromProto(o.GetPrice(), r.currency, r.unit)
		r.note(place+"price", err)
	}
	if len(r.faults) == before {
		for _, f := range out.Check() {
			r.faults = append(r.faults, f.In(place))
		}
	}
	return out
}

// Bounds of what an order may say of HMF and its store.
const (
	mostHMF     = 1000_0
	coldStore   = -30_0
	usualStore  = 20_0
	hmfDigits   = 1
	storeDigits = 1
)

// hmf reads the limit on HMF at the best-by date.
func (r *reader) hmf(place string, o *inventoryv1.BlendOrder, out *blend.Order) {
	if o.GetMaxHmfMgPerKg() == "" {
		if o.GetBestByDate() != "" {
			r.note(place+"max_hmf_mg_per_kg", errors.New("is missing: a best-by date needs the HMF allowed on it"))
		}
		return
	}
	v, err := quantity.ParseFixed(o.GetMaxHmfMgPerKg(), hmfDigits)
	if err == nil && (v < 0 || v > mostHMF) {
		err = fmt.Errorf("%s is not from 0 to 1000 mg/kg", o.GetMaxHmfMgPerKg())
	}
	r.note(place+"max_hmf_mg_per_kg", err)
	most := blend.HMF(v)
	out.MaxHMF = &most
	day := r.day(place+"best_by_date", o.GetBestByDate(), time.UTC)
	store := int64(usualStore)
	if typed := o.GetStorageCelsius(); typed != "" {
		store, err = quantity.ParseFixed(typed, storeDigits)
		if err == nil && (store < coldStore || store > heat.WarmestStore) {
			err = fmt.Errorf("%s °C is not from -30 to 60 °C", typed)
		}
		r.note(place+"storage_celsius", err)
	}
	out.BestByDay, out.DaysToGain = app.DayOf(day), heat.DaysInStore(heat.Celsius(store))
}

// groups reads the shares of listed barrels.
func (r *reader) groups(place string, o *inventoryv1.BlendOrder, out *blend.Order) {
	names := map[string]bool{}
	for n, g := range o.GetGroups() {
		at := fmt.Sprintf("%sgroups[%d].", place, n)
		if names[g.GetName()] {
			r.note(at+"name", fmt.Errorf("%q names two groups", g.GetName()))
		}
		names[g.GetName()] = true
		group := blend.Group{Name: g.GetName(), Barrels: map[string]bool{}}
		for i, name := range g.GetStockItems() {
			group.Barrels[r.id(fmt.Sprintf("%sstock_items[%d]", at, i), "stock", name).String()] = true
		}
		group.Min = r.percent(at+"min_share_percent", g.GetMinSharePercent())
		group.Max = r.percent(at+"max_share_percent", g.GetMaxSharePercent())
		if group.Min != nil && group.Max != nil && *group.Max < *group.Min {
			r.note(at+"max_share_percent", fmt.Errorf("is %s, below the least share %s", group.Max, group.Min))
		}
		out.Groups = append(out.Groups, group)
	}
}
