package domain

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"sync"
)

// Analyte is something outside laboratories look for, as the house rules have it.
type Analyte struct {
	ID, Words, Unit string
	Low, High       Value
	// Kind is the method it counts as on the bench; zero for a residue.
	Kind Kind
	// Residue over Most holds honey. Without a limit none may be detected at all.
	Residue bool
	Most    *Value
	// Below allows a limit of detection as a value. Where a standard asks for at least something, less than a limit of
	// detection would tell nothing.
	Below              bool
	Source, Provenance string
}

// Analytes lists what is looked for.
var Analytes = sync.OnceValue(func() []Analyte {
	text, err := houseFiles.ReadFile("house/analytes-2026.json")
	if err != nil {
		panic(fmt.Errorf("analytes: %w", err))
	}
	list, err := parseAnalytes(text)
	if err != nil {
		panic(fmt.Errorf("analytes: %w", err))
	}
	return list
})

type analytesFile struct {
	Source   string `json:"source"`
	Analytes []struct {
		ID         string `json:"id"`
		Kind       *Kind  `json:"kind"`
		Words      string `json:"words"`
		Unit       string `json:"unit"`
		High       string `json:"high"`
		Most       string `json:"most"`
		Residue    bool   `json:"residue"`
		Below      bool   `json:"below"`
		Provenance string `json:"provenance"`
	} `json:"analytes"`
}

func parseAnalytes(text []byte) ([]Analyte, error) {
	decoder := json.NewDecoder(bytes.NewReader(text))
	decoder.DisallowUnknownFields()
	var f analytesFile
	if err := decoder.Decode(&f); err != nil {
		return nil, err
	}
	out := make([]Analyte, 0, len(f.Analytes))
	for _, in := range f.Analytes {
		a := Analyte{ID: in.ID, Words: in.Words, Unit: in.Unit, Residue: in.Residue, Below: in.Below, Source: f.Source, Provenance: in.Provenance}
		if in.Kind != nil {
			a.Kind = *in.Kind
			s := a.Kind.Factor().spec()
			a.Words, a.Unit, a.Low, a.High = s.words, s.unit, s.low, s.high
		}
		var err error
		if in.High != "" {
			if a.High, err = ParseValue(in.High); err != nil {
				return nil, fmt.Errorf("%s: %w", a.ID, err)
			}
		}
		if in.Most != "" {
			most, err := ParseValue(in.Most)
			if err != nil {
				return nil, fmt.Errorf("%s: %w", a.ID, err)
			}
			a.Most = &most
		}
		if a.ID == "" || a.Words == "" || a.High <= a.Low || a.Provenance == "" || a.Residue == (a.Kind != 0) {
			return nil, fmt.Errorf("analyte %q needs id, words, a range, provenance, and either a method or residue", a.ID)
		}
		out = append(out, a)
	}
	return out, nil
}

// FindAnalyte reads an analyte's name. Errors: *FieldError.
func FindAnalyte(id string) (Analyte, error) {
	all := Analytes()
	at := slices.IndexFunc(all, func(a Analyte) bool { return a.ID == strings.ToUpper(strings.TrimSpace(id)) })
	if at < 0 {
		var ids []string
		for i := range all {
			ids = append(ids, all[i].ID)
		}
		return Analyte{}, &FieldError{"analyte", fmt.Sprintf("analyte %q is not known: use one of %s", id, listWords(ids))}
	}
	return all[at], nil
}

// analyteOf is the analyte that counts as a method.
func analyteOf(k Kind) *Analyte {
	all := Analytes()
	at := slices.IndexFunc(all, func(a Analyte) bool { return a.Kind == k && k != 0 })
	if at < 0 {
		return nil
	}
	return &all[at]
}

// MayReadAlone refuses methods whose results arrive on paper: those are keyed by two people. Errors: *FieldError.
func MayReadAlone(k Kind) error {
	if a := analyteOf(k); a != nil {
		return &FieldError{"kind", fmt.Sprintf(
			"%s is reported by an outside laboratory: key its result and have somebody else confirm it", a.Words)}
	}
	return nil
}

// Found is a figure as printed: a value, or less than a limit of detection.
type Found struct {
	Value Value
	Below bool
}

// ParseFound reads "12.4" or "<0.3". Errors: *FieldError, *OutOfRangeError.
func (a *Analyte) ParseFound(s string) (Found, error) {
	number, below := strings.CutPrefix(strings.TrimSpace(s), "<")
	v, err := parseValueField("value", strings.TrimSpace(number))
	if err != nil {
		return Found{}, err
	}
	switch {
	case below && !a.Below:
		return Found{}, &FieldError{"value", fmt.Sprintf("%s cannot be less than a limit of detection: key the figure, or ask the laboratory for it", a.Words)}
	case below && v <= 0:
		return Found{}, &FieldError{"value", fmt.Sprintf("%q: a limit of detection is more than 0", s)}
	case v < a.Low || v > a.High:
		return Found{}, &OutOfRangeError{"value", a.Low.Format(1), a.High.Format(1), fmt.Sprintf(
			"%s %s %s is outside %s to %s: compare it with the report", s, a.Unit, a.Words, a.Low.Format(1), a.High.Format(1))}
	}
	return Found{v, below}, nil
}

// String is the figure as printed, in the shortest form.
func (f Found) String() string {
	if f.Below {
		return "<" + f.Value.Format(1)
	}
	return f.Value.Format(1)
}

// Over judges a residue by the house limit and says so in words. A limit of detection over the house limit clears nothing:
// what lies between was not looked for.
func (a *Analyte) Over(f Found) (over bool, words string) {
	said := fmt.Sprintf("%s %s %s", f, a.Unit, a.Words)
	switch {
	case !a.Residue:
		return false, said
	case a.Most == nil && f.Below:
		return false, said + ": none detected"
	case a.Most == nil:
		return true, said + ": detected, where none may be"
	case f.Value > *a.Most && f.Below:
		return true, fmt.Sprintf("%s: the method would not have found the %s %s of the house, so it clears nothing", said, a.Most.Format(1), a.Unit)
	case f.Value > *a.Most:
		return true, fmt.Sprintf("%s: over the %s %s of the house", said, a.Most.Format(1), a.Unit)
	default:
		return false, fmt.Sprintf("%s: within the %s %s of the house", said, a.Most.Format(1), a.Unit)
	}
}
