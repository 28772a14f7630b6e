package netcontent

import (
	"bytes"
	_ "embed" // the tables are data with their provenance, not constants in code
	"encoding/csv"
	"fmt"
	"math"
	"strconv"
	"strings"

	"barrelhead.example/services/kit/quantity"
)

// The files are those of testdata/published; a test keeps them alike.
var (
	//go:embed tables/hb133_sampling.csv
	samplingFile []byte
	//go:embed tables/hb133_mav.csv
	variationFile []byte

	plans      = must(readPlans(samplingFile))
	variations = must(readVariations(variationFile))
)

// Plan is a row of the Category A sampling plans.
type Plan struct {
	// From and To are the sizes of lots it is for.
	From, To int64
	// Sample is how many packages are weighed.
	Sample int
	// Factor makes the sample error limit of a standard deviation, in thousandths; 0 where the average is not tested.
	Factor int64
	// ShortAllowed is how many packages may be short by more than the variation.
	ShortAllowed int
	// Provisional figures were not read in the source itself.
	Provisional bool
}

// PlanFor is the plan for a lot of so many packages, at least one.
func PlanFor(lot int64) Plan {
	for _, p := range plans {
		if lot <= p.To {
			return p
		}
	}
	return plans[len(plans)-1]
}

// band is a row of the maximum allowable variations: labels above from and at most to, in ten-thousandths of a pound.
type band struct {
	from, to int64
	// percent of the label, or one weight in each unit.
	percent     int64
	gram, pound Weight
	provisional bool
}

// poundInGrams times 100,000: 453.59237 g, exact.
const poundInGrams = 45359237

// holds compares in the exact ratio of the two units.
func (b band) holds(declared Weight, unit Unit) bool {
	if unit == Pound {
		return int64(declared) <= b.to
	}
	return b.to >= math.MaxInt64/poundInGrams || int64(declared)*100_000 <= b.to*poundInGrams
}

// Variation is how much a single package of a label may be short, and whether the figure is provisional.
func Variation(declared Weight, unit Unit) (Weight, bool) {
	for _, b := range variations {
		if !b.holds(declared, unit) {
			continue
		}
		switch {
		case b.percent > 0:
			return Weight((int64(declared)*b.percent + 50) / 100), b.provisional
		case unit == Pound:
			return b.pound, b.provisional
		default:
			return b.gram, b.provisional
		}
	}
	return 0, true
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err) // the file is part of the program
	}
	return v
}

func rows(file []byte) ([]map[string]string, error) {
	lines, err := csv.NewReader(bytes.NewReader(file)).ReadAll()
	if err != nil {
		return nil, fmt.Errorf("read table: %w", err)
	}
	var out []map[string]string
	for _, line := range lines[1:] {
		row := map[string]string{}
		for i, column := range lines[0] {
			row[column] = line[i]
		}
		out = append(out, row)
	}
	return out, nil
}

func provisional(row map[string]string) bool { return !strings.HasPrefix(row["provenance"], "read") }

func readPlans(file []byte) (out []Plan, err error) {
	table, err := rows(file)
	if err != nil {
		return nil, err
	}
	for _, row := range table {
		p := Plan{Provisional: provisional(row)}
		if p.From, p.To, err = sizes(row["lot_size"]); err != nil {
			return nil, err
		}
		if p.Sample, err = strconv.Atoi(row["sample_size"]); err != nil {
			return nil, fmt.Errorf("sample size: %w", err)
		}
		// One package alone has no deviation: only the variation applies to it.
		if row["sample_correction_factor"] != "apply MAV" {
			if p.Factor, err = quantity.ParseFixed(row["sample_correction_factor"], 3); err != nil {
				return nil, fmt.Errorf("correction factor: %w", err)
			}
		}
		if p.ShortAllowed, err = strconv.Atoi(row["packages_allowed_over_MAV"]); err != nil {
			return nil, fmt.Errorf("packages allowed: %w", err)
		}
		out = append(out, p)
	}
	return out, nil
}

// sizes reads "7", "12-250" or "over 3200".
func sizes(s string) (from, to int64, err error) {
	if above, ok := strings.CutPrefix(s, "over "); ok {
		from, err = strconv.ParseInt(above, 10, 64)
		return from + 1, math.MaxInt64, err
	}
	low, high, ranged := strings.Cut(s, "-")
	if !ranged {
		high = low
	}
	if from, err = strconv.ParseInt(low, 10, 64); err != nil {
		return 0, 0, fmt.Errorf("lot size: %w", err)
	}
	to, err = strconv.ParseInt(high, 10, 64)
	return from, to, err
}

func readVariations(file []byte) (out []band, err error) {
	table, err := rows(file)
	if err != nil {
		return nil, err
	}
	for _, row := range table {
		b := band{to: math.MaxInt64, provisional: provisional(row)}
		if row["label_over_lb"] != "" {
			if b.from, err = quantity.ParseFixed(row["label_over_lb"], digits); err != nil {
				return nil, fmt.Errorf("label above: %w", err)
			}
		}
		if row["label_to_lb"] != "" {
			if b.to, err = quantity.ParseFixed(row["label_to_lb"], digits); err != nil {
				return nil, fmt.Errorf("label up to: %w", err)
			}
		}
		if err := b.amount(row); err != nil {
			return nil, err
		}
		out = append(out, b)
	}
	return out, nil
}

func (b *band) amount(row map[string]string) (err error) {
	if percent, ok := strings.CutSuffix(row["mav_lb"], " % of label"); ok {
		b.percent, err = strconv.ParseInt(percent, 10, 64)
		return err
	}
	if b.gram, err = ParseWeight(row["mav_g"]); err != nil {
		return err
	}
	b.pound, err = ParseWeight(row["mav_lb"])
	return err
}
