package season

import (
	"context"
	"fmt"
	"time"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

// bequeath records whose the estate's honey is. A season run again on another day finds the agreement and leaves it: its
// date has to be that of the day it was made.
func (c *Crew) bequeath(ctx context.Context) error {
	if c.Season.Estate == "" {
		return nil
	}
	path := "/v1/members/" + c.Season.Estate + "/standingSplits"
	var found intakev1.ListStandingSplitsResponse
	if err := c.sessions["office"].Get(ctx, path, &found); err != nil || len(found.GetStandingSplits()) > 0 {
		return err
	}
	zone, err := zone()
	if err != nil {
		return err
	}
	return c.sessions["office"].Post(ctx, path, &intakev1.SetStandingSplitRequest{
		RequestId: RequestID("estate", c.Season.CropYear), Member: "members/" + c.Season.Estate,
		EffectiveDate: time.Now().In(zone).Format(time.DateOnly), Owners: shares(c.Season.Heirs),
		Note: "letters of the court, signed by both heirs",
	}, &intakev1.StandingSplit{})
}

// zone is where the cooperative is.
func zone() (*time.Location, error) {
	zone, err := time.LoadLocation("America/Chicago")
	if err != nil {
		return nil, fmt.Errorf("the cooperative's time: %w", err)
	}
	return zone, nil
}

// noteLien registers a lender's notice.
func (c *Crew) noteLien(ctx context.Context) error {
	if c.Season.Lien == "" {
		return nil
	}
	return c.sessions["office"].Post(ctx, "/v1/encumbrances", &settlementv1.RegisterEncumbranceRequest{
		RequestId: RequestID("lien", c.Season.CropYear),
		Encumbrance: &settlementv1.Encumbrance{
			Member: "members/" + c.Season.Lien, Kind: settlementv1.EncumbranceKind_ENCUMBRANCE_KIND_LIEN, Creditor: "Creekside Farm Credit",
			Percent: "50", Limit: dollars(5_000_00), Document: "Notice of lien no. 12", ReceiveDate: fmt.Sprintf("%d-06-01", c.Season.CropYear),
		},
	}, &settlementv1.Encumbrance{})
}

// over is the source whose pool is closed below its advance: what it sold for, in cents a pound of net weight.
const (
	over      = "buckwheat"
	overCents = 94
)

// ClosePool closes the pool of one source, when everything is priced. It sold badly: most advances were too high, which is
// carried and not collected. Called again it finds all of it done. A season without that honey has no such pool.
func (c *Crew) ClosePool(ctx context.Context) error {
	tenths := c.Season.NetTenths(over)
	if tenths == 0 {
		return nil
	}
	office, year := c.sessions["office"], c.Season.CropYear
	var pool settlementv1.Pool
	if err := office.Post(ctx, "/v1/pools", &settlementv1.OpenPoolRequest{RequestId: RequestID("pool", year, over), Pool: overPool(year)}, &pool); err != nil {
		return err
	}
	if err := office.Post(ctx, "/v1/"+pool.GetName()+"/entries", &settlementv1.RecordPoolEntryRequest{
		RequestId: RequestID("sales", year, over), Pool: pool.GetName(),
		Entry: &settlementv1.PoolEntry{
			Kind: settlementv1.PoolEntryKind_POOL_ENTRY_KIND_PROCEEDS, Amount: dollars(tenths * overCents / 10),
			Description: "Sold in bulk below last year's price", Document: "Contract 31", EntryDate: fmt.Sprintf("%d-12-15", year),
		},
	}, &settlementv1.PoolEntry{}); err != nil {
		return err
	}
	var run settlementv1.Run
	if err := office.Post(ctx, "/v1/"+pool.GetName()+"/runs", &settlementv1.PrepareRunRequest{
		RequestId: RequestID("run", year, over), Pool: pool.GetName(),
	}, &run); err != nil {
		return err
	}
	if err := c.sessions["board"].Post(ctx, "/v1/"+run.GetName()+":approve", &settlementv1.ApproveRunRequest{
		RequestId: RequestID("approve run", year, over), Name: run.GetName(), Fingerprint: run.GetFingerprint(), Minutes: "Board, resolution 9",
	}, &settlementv1.Run{}); err != nil {
		return err
	}
	return c.sessions["treasurer"].Post(ctx, "/v1/"+run.GetName()+":release", &settlementv1.ReleaseRunRequest{
		RequestId: RequestID("release run", year, over), Name: run.GetName(), Fingerprint: run.GetFingerprint(),
	}, &settlementv1.Run{})
}

// overPool has the schedule's own differences between classes.
func overPool(year int32) *settlementv1.Pool {
	return &settlementv1.Pool{
		CropYear: year, Title: fmt.Sprintf("Buckwheat %d", year), Varieties: []string{over}, Differentials: differentials(),
	}
}

// differentials are what classes are worth more or less than the darkest of the schedule.
func differentials() (out []*settlementv1.Differential) {
	for _, color := range colorCents {
		for _, grade := range gradeCents {
			cents := color.cents - colorCents[len(colorCents)-1].cents + grade.cents
			amount := price(cents)
			if cents < 0 {
				amount = price(-cents)
				amount.Amount = "-" + amount.GetAmount()
			}
			out = append(out, &settlementv1.Differential{ColorClass: color.class, Grade: grade.grade, Amount: amount})
		}
	}
	return out
}

func dollars(cents int64) *typev1.Money {
	return &typev1.Money{Amount: fmt.Sprintf("%d.%02d", cents/100, cents%100), CurrencyCode: "USD"}
}
