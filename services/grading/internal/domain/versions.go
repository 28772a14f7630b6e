package domain

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"time"
)

// Library holds every version of every standard known, by id and then by the day they apply from. Versions are only ever
// added: a certificate names its version and is worked out by it for ever.
type Library struct{ standards []*Standard }

// All lists every version of every standard.
func (l *Library) All() []*Standard { return l.standards }

// ReadLibrary adds to the published standards the data files (*.json) of a folder, e.g. a new version of one of them. All
// that is wrong with them is reported at once.
func ReadLibrary(folder fs.FS) (*Library, error) { return readLibrary(folder, ".", Published()) }

func readLibrary(files fs.FS, folder string, known *Library) (*Library, error) {
	entries, err := fs.ReadDir(files, folder)
	if err != nil {
		return nil, fmt.Errorf("list standards: %w", err)
	}
	list := slices.Clone(known.standards)
	var faults []error
	for _, e := range entries {
		if path.Ext(e.Name()) != ".json" {
			continue
		}
		text, err := fs.ReadFile(files, path.Join(folder, e.Name()))
		if err != nil {
			return nil, fmt.Errorf("standard %s: %w", e.Name(), err)
		}
		s, err := ParseStandard(text)
		if err != nil {
			faults = append(faults, fmt.Errorf("standard %s: %w", e.Name(), err))
		}
		list = append(list, s)
	}
	if len(faults) > 0 {
		return nil, errors.Join(faults...)
	}
	return NewLibrary(list...)
}

// NewLibrary orders versions and refuses two that nobody could tell apart: the same version twice, or two versions that
// apply from the same day.
func NewLibrary(list ...*Standard) (*Library, error) {
	sorted := slices.Clone(list)
	slices.SortStableFunc(sorted, func(a, b *Standard) int {
		return cmp.Or(cmp.Compare(a.ID, b.ID), cmp.Compare(a.EffectiveDate, b.EffectiveDate))
	})
	var faults []error
	for i, s := range sorted {
		for _, other := range sorted[:i] {
			switch {
			case other.ID != s.ID:
			case other.Version == s.Version:
				faults = append(faults, fmt.Errorf("standard %s has version %s twice: a version never changes, give the new one another name", s.ID, s.Version))
			case other.EffectiveDate == s.EffectiveDate:
				faults = append(faults, fmt.Errorf("standard %s has versions %s and %s that both apply from %s", s.ID, other.Version, s.Version, s.EffectiveDate))
			}
		}
	}
	return &Library{sorted}, errors.Join(faults...)
}

// InForce gives the version that judges honey drawn on a day, e.g. "2026-09-14". Errors: *NotFoundError for a standard
// that is not known, or did not apply yet.
func (l *Library) InForce(name, day string) (*Standard, error) {
	var found, first *Standard
	for _, s := range l.standards {
		if s.Name() != name {
			continue
		}
		if first == nil {
			first = s
		}
		if s.EffectiveDate <= day {
			found = s
		}
	}
	switch {
	case found != nil:
		return found, nil
	case first != nil:
		return nil, &NotFoundError{Resource: name, Message: fmt.Sprintf("%s applies from %s and not yet on %s", name, first.EffectiveDate, day)}
	default:
		return nil, &NotFoundError{Resource: name}
	}
}

// Version gives a version by its name, in force or not. Errors: *NotFoundError.
func (l *Library) Version(name, version string) (*Standard, error) {
	for _, s := range l.standards {
		if s.Name() == name && s.Version == version {
			return s, nil
		}
	}
	return nil, &NotFoundError{Resource: name, Message: fmt.Sprintf("%s has no version %q", name, version)}
}

// HouseOn is the version of the house standard that judges a sample drawn on a day. Honey from before the standard, which
// only a wrong clock can draw, is judged by its first version.
func (l *Library) HouseOn(day string) *Standard {
	s, err := l.InForce("standards/"+HouseStandard, day)
	if err == nil {
		return s
	}
	at := slices.IndexFunc(l.standards, func(s *Standard) bool { return s.ID == HouseStandard })
	return l.standards[at]
}

// ReplacedOn is the first day of the next version of a standard; empty for the newest.
func (l *Library) ReplacedOn(s *Standard) string {
	for _, other := range l.standards {
		if other.ID == s.ID && other.EffectiveDate > s.EffectiveDate {
			return other.EffectiveDate
		}
	}
	return ""
}

// inForce lists the versions of all standards that apply on a day.
func (l *Library) inForce(day string) []*Standard {
	var out []*Standard
	for _, s := range l.standards {
		if next := l.ReplacedOn(s); s.EffectiveDate <= day && (next == "" || next > day) {
			out = append(out, s)
		}
	}
	return out
}

// DrawDay is the day of the cooperative's calendar a sample was drawn on.
func (s Sample) DrawDay(zone *time.Location) string { return s.DrawTime.In(zone).Format(time.DateOnly) }

// Recompute judges a certificate again from its readings by the version of the standard it names. The result is compared
// byte by byte with what was stored. Errors: *NotFoundError when the version is gone.
func (l *Library) Recompute(c *Certificate) (Decision, error) {
	standard, err := l.Version(c.Decision.Standard, c.Decision.StandardVersion)
	if err != nil {
		return Decision{}, err
	}
	r := Release{Sample: Sample{Code: c.Sample, Variety: c.Variety, CropYear: c.CropYear}, Style: c.Style}
	return r.judge(standard, c.Readings)
}
