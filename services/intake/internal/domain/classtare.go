package domain

import (
	"fmt"
	"strconv"
	"time"

	"barrelhead.example/services/kit/quantity"
)

// lapseNotice is how many days ahead a class tare is said to lapse; our own limit.
const lapseNotice = 30

// ClassTare is the average empty weight of a type of container, from a weighed sample. It is reviewed yearly (common practice,
// no source).
type ClassTare struct {
	ID         int64
	Container  Container
	Tare       quantity.Mass
	SampleSize int
	// SampleDate and ReviewDate are local dates; until the latter it may be used without a reason.
	SampleDate string
	ReviewDate string
	Note       string
	Setter     string
	SetTime    time.Time
}

// Name is the resource name.
func (t ClassTare) Name() string { return "classTares/" + strconv.FormatInt(t.ID, 10) }

// Vet fills in the dates that were not said and refuses what cannot be.
func (t ClassTare) Vet(today string, unit quantity.Unit) (ClassTare, error) {
	if t.SampleDate == "" {
		t.SampleDate = today
	}
	switch {
	case t.Tare <= 0:
		return t, outOfRange("tare", quantity.Mass(1).String(), "", "an empty container cannot weigh %s: weigh some again", t.Tare.Say(unit))
	case !isDate(t.SampleDate):
		return t, invalid("sample_date", "%q is not a date such as 2026-03-02", t.SampleDate)
	case t.SampleDate > today:
		return t, outOfRange("sample_date", "", today, "the sample cannot have been weighed on %s, which is still to come", t.SampleDate)
	}
	if t.ReviewDate == "" {
		t.ReviewDate = yearAfter(t.SampleDate)
	}
	if !isDate(t.ReviewDate) || t.ReviewDate <= t.SampleDate {
		return t, invalid("review_date", "%q is not a date after %s, when the sample was weighed", t.ReviewDate, t.SampleDate)
	}
	return t, nil
}

func yearAfter(date string) string {
	t, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return ""
	}
	return t.AddDate(1, 0, 0).Format(time.DateOnly)
}

// Warnings says what to see to, in plain words.
func (t ClassTare) Warnings(today string) []string {
	words := usualWeights[t.Container].words
	switch left := days(today, t.ReviewDate); {
	case left < 0:
		return []string{fmt.Sprintf("the class tare of %s lapsed on %s: weigh some empty ones and record a new one", words, t.ReviewDate)}
	case left <= lapseNotice:
		return []string{fmt.Sprintf("the class tare of %s lapses on %s, in %d days: weigh some empty ones and record a new one", words, t.ReviewDate, left)}
	default:
		return nil
	}
}

// ClassTares are those in force, by type of container.
type ClassTares map[Container]ClassTare

// judge says what is unusual about a class tare that was used on a day. A house that keeps no class tares binds nobody; once it
// keeps any, the type of the container has to be known and its class tare to be in date.
func (all ClassTares) judge(w Weighing, c Container, today string, unit quantity.Unit) []warning {
	if w.TareKind != TareClass || len(all) == 0 {
		return nil
	}
	t, known := all[c]
	words := usualWeights[c].words
	switch {
	case c == Unregistered:
		return []warning{{"container", "a class tare belongs to a type of container, and nobody said what this drum is", nil}}
	case !known:
		return []warning{{"tare", fmt.Sprintf("there is no class tare of %s on record", words), nil}}
	case t.Tare != w.Tare:
		return []warning{{"tare", fmt.Sprintf("the class tare of %s is %s (%d weighed on %s), but the tare says %s", words, t.Tare.Say(unit),
			t.SampleSize, t.SampleDate, w.Tare.Say(unit)), &Band{t.Tare, t.Tare}}}
	case today > t.ReviewDate:
		return []warning{{"tare", fmt.Sprintf("the class tare of %s lapsed on %s", words, t.ReviewDate), nil}}
	default:
		return nil
	}
}
