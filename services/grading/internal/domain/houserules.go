package domain

import (
	"bytes"
	"embed"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"sync"
	"time"
)

//go:embed house
var houseFiles embed.FS

// HouseRules are what the laboratory has written down for itself.
type HouseRules struct {
	Version, Source string
	// DuplicateDiffersMost is how far two jars of the same honey may read apart.
	DuplicateDiffersMost map[Factor]Value
	// RereadWithin of a limit a reading is read twice more and the mean counts.
	RereadWithin map[Factor]Value
	// Precision is the standard deviation of a single reading.
	Precision map[Factor]Value
	// AppealDays is how long a certificate can be appealed, its own day not counted.
	AppealDays int
	// ControlEvery is how long a passing control speaks for the bench.
	ControlEvery time.Duration
}

// House is the rules in force.
var House = sync.OnceValue(func() *HouseRules {
	text, err := houseFiles.ReadFile("house/laboratory-2026.json")
	if err != nil {
		panic(fmt.Errorf("house rules: %w", err))
	}
	rules, err := parseHouseRules(text)
	if err != nil {
		panic(fmt.Errorf("house rules: %w", err))
	}
	return rules
})

type houseFile struct {
	Version    string            `json:"version"`
	Source     string            `json:"source"`
	Duplicate  map[Factor]string `json:"duplicate_differs_most"`
	Reread     map[Factor]string `json:"reread_within"`
	Precision  map[Factor]string `json:"precision"`
	AppealDays int               `json:"appeal_days"`
	Hours      int               `json:"control_hours"`
}

func parseHouseRules(text []byte) (*HouseRules, error) {
	decoder := json.NewDecoder(bytes.NewReader(text))
	decoder.DisallowUnknownFields()
	var f houseFile
	if err := decoder.Decode(&f); err != nil {
		return nil, err
	}
	r := &HouseRules{Version: f.Version, Source: f.Source, AppealDays: f.AppealDays, ControlEvery: time.Duration(f.Hours) * time.Hour}
	var err error
	for _, table := range []struct {
		from map[Factor]string
		to   *map[Factor]Value
	}{{f.Duplicate, &r.DuplicateDiffersMost}, {f.Reread, &r.RereadWithin}, {f.Precision, &r.Precision}} {
		if *table.to, err = values(table.from); err != nil {
			return nil, err
		}
	}
	if r.AppealDays <= 0 || r.ControlEvery <= 0 {
		return nil, fmt.Errorf("appeal_days is %d and control_hours %d, both must be more than 0", r.AppealDays, f.Hours)
	}
	return r, nil
}

func values(texts map[Factor]string) (map[Factor]Value, error) {
	out := make(map[Factor]Value, len(texts))
	for _, f := range slices.Sorted(maps.Keys(texts)) {
		v, err := ParseValue(texts[f])
		if err != nil {
			return nil, fmt.Errorf("%s: %w", f, err)
		}
		out[f] = v
	}
	return out, nil
}
