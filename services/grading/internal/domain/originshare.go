package domain

import (
	"fmt"

	"barrelhead.example/services/kit/quantity"
)

// OriginVerdict says whether a printed share of a country is near enough to the traced one.
type OriginVerdict struct {
	Allowed            bool
	Low, High          string
	Text               string
	Source, Provenance string
}

const shareMax = 100 * one

// JudgeOriginShare compares shares of a blend. Directive (EU) 2024/1438 lets a printed share be off by 5 %; read here as 5 %
// of the printed share (from memory, 75 % sure), which is the stricter reading below 100 %. Errors: *FieldError.
func JudgeOriginShare(traced, printed string) (OriginVerdict, error) {
	t, terr := parseShare("traced_percent", traced)
	p, perr := parseShare("printed_percent", printed)
	if err := joined(compact(terr, perr)); err != nil {
		return OriginVerdict{}, err
	}
	const parts = 20
	low, high := p-p/parts, p+p/parts
	v := OriginVerdict{
		Allowed: t >= low && t <= high, Low: low.Format(1), High: high.Format(1),
		Source: "Directive (EU) 2024/1438 as summarized at fsai.ie", Provenance: "mixed: 5 % read; that it is of the share from memory (75 % sure)",
	}
	verdict := "is outside"
	if v.Allowed {
		verdict = "is within"
	}
	v.Text = fmt.Sprintf("%s %% by the records %s %s to %s %%, which is the printed %s %% and 5 %% of it either way.",
		t.Format(1), verdict, v.Low, v.High, p.Format(1))
	return v, nil
}

func compact(list ...error) []error {
	var out []error
	for _, err := range list {
		if err != nil {
			out = append(out, err)
		}
	}
	return out
}

func parseShare(field, s string) (Value, error) {
	v, err := parseField(field, s, func(s string) (int64, error) { return quantity.ParseFixed(s, 2) })
	if err != nil {
		return 0, err
	}
	share := Value(v) * one / 100
	if share < 0 || share > shareMax {
		return 0, &FieldError{field, fmt.Sprintf("%s: %s is no share: it must be from 0 to 100", field, s)}
	}
	return share, nil
}
