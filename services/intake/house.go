package intake

import (
	"fmt"
	"time"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/intake/internal/indicator"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/quantity"
)

// House is what a cooperative decides about its dock. The zero House is usable.
type House struct {
	// UsualWeights replaces the usual weights of a drum nobody registered, a 55-gallon steel drum, in the cooperative's unit; absent keeps them.
	UsualWeights UsualWeights `json:"usual_weights"`
	// TareVariance is how far an emptied drum may be off its tare before it is listed, in the cooperative's unit; absent or
	// zero means 2 lb or 0.9 kg.
	TareVariance quantity.Mass `json:"tare_variance"`
	// ReweighDays is for how many days after closing a member may have a barrel weighed again; absent or zero means 14.
	ReweighDays int `json:"reweigh_days"`
	// Indicators connects the indicators of scales, by the id of the scale: "2" for scales/2. A scale without one is read by
	// eye. Every replica reads each indicator for itself, so all must be given the same, and reach them.
	Indicators Indicators `json:"indicators"`
	// CaptureAge is how long a weight captured from an indicator may be used for a weighing; absent or zero means 5 minutes.
	CaptureAge config.Duration `json:"capture_age"`
	// RetentionDays is for how many days portions of samples are kept; absent or zero means 365.
	RetentionDays RetentionDays `json:"retention_days"`
}

// Check lists what is wrong with it.
func (h House) Check() []config.Fault {
	var faults []config.Fault
	for _, f := range h.Indicators.Check() {
		faults = append(faults, config.Fault{Path: "indicators." + f.Path, Message: f.Message})
	}
	if h.CaptureAge < 0 {
		faults = append(faults, config.Fault{Path: "capture_age", Message: fmt.Sprintf("is %s, must not be below zero", time.Duration(h.CaptureAge))})
	}
	return faults
}

// RetentionDays is for how many days portions A (laboratory), B (member) and C (referee) are kept. The law and the time for
// appeals decide how few are too few.
type RetentionDays struct {
	A int `json:"a"`
	B int `json:"b"`
	C int `json:"c"`
}

// Check refuses less than nothing.
func (r RetentionDays) Check() []config.Fault {
	var faults []config.Fault
	for _, p := range []struct {
		path string
		days int
	}{{"a", r.A}, {"b", r.B}, {"c", r.C}} {
		if p.days < 0 {
			faults = append(faults, config.Fault{Path: p.path, Message: fmt.Sprintf("is %d, must not be below zero", p.days)})
		}
	}
	return faults
}

// Indicators has the settings of each scale with an indicator.
type Indicators = indicator.Book

// UsualWeights are the bands outside of which the dock has to say why a weight is right.
type UsualWeights domain.Bands

// Check refuses bands that are no ranges.
func (u UsualWeights) Check() []config.Fault {
	if u == (UsualWeights{}) {
		return nil
	}
	if err := domain.Bands(u).Validate(); err != nil {
		return []config.Fault{{Message: err.Error()}}
	}
	return nil
}
