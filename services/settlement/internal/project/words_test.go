package project

import (
	"testing"

	"github.com/stretchr/testify/require"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
)

func TestReadingsInWords(t *testing.T) {
	t.Parallel()
	for want, r := range map[string]*gradingv1.Reading{
		"refractive index 1.4885 at 21.0 °C on RF-2: 19.2 %": {Kind: gradingv1.ReadingKind_READING_KIND_REFRACTIVE_INDEX, RawValue: "1.4885", TemperatureC: "21.0", Instrument: "RF-2", ReportedValue: "19.2"},
		"refractive index 1.4885 at 20.0 °C: 19.2 %":         {Kind: gradingv1.ReadingKind_READING_KIND_REFRACTIVE_INDEX, RawValue: "1.4885", ReportedValue: "19.2"},
		"moisture 19.24 % on RF-2: 19.2 %":                   {Kind: gradingv1.ReadingKind_READING_KIND_MOISTURE_PERCENT, RawValue: "19.24", Instrument: "RF-2", ReportedValue: "19.2"},
		"79.2 degrees Brix on RF-2: 19.2 %":                  {Kind: gradingv1.ReadingKind_READING_KIND_BRIX, RawValue: "79.2", Instrument: "RF-2", ReportedValue: "19.2"},
		"colour 12.04 mm on CM-1: 12.0 mm":                   {Kind: gradingv1.ReadingKind_READING_KIND_PFUND_MM, RawValue: "12.04", Instrument: "CM-1", ReportedValue: "12.0"},
		"absorbance 0.137 at 635 nm on SP-1: 12.2 mm":        {Kind: gradingv1.ReadingKind_READING_KIND_ABSORBANCE_635, RawValue: "0.137", Instrument: "SP-1", ReportedValue: "12.2"},
		"flavour and aroma 47 of 50 points":                  {Kind: gradingv1.ReadingKind_READING_KIND_FLAVOR, RawValue: "47", ReportedValue: "47"},
		"absence of defects 39 of 40 points":                 {Kind: gradingv1.ReadingKind_READING_KIND_DEFECTS, RawValue: "39", ReportedValue: "39"},
		"clarity 9 of 10 points":                             {Kind: gradingv1.ReadingKind_READING_KIND_CLARITY, RawValue: "9", ReportedValue: "9"},
		"reading 3 on X-1: 3":                                {Kind: gradingv1.ReadingKind(99), RawValue: "3", Instrument: "X-1", ReportedValue: "3"},
	} {
		r.Analyst = "users/lab1"
		require.Equal(t, want, inWords(r))
	}
}
