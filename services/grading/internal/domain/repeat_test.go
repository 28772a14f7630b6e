package domain_test

import (
	"bytes"
	"crypto/rand"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/kit/checkdigit"
)

func TestCodesOfDuplicatesLookLikeAnyOther(t *testing.T) {
	t.Parallel()
	for range 200 {
		code, err := domain.DrawCode(rand.Reader)
		require.NoError(t, err)
		require.Regexp(t, `^[2345679CDFHJKMNPQRTVWXY8]{9}$`, code)
		require.NoError(t, checkdigit.ValidCode(code))
		for i := range len(code) - 1 {
			swapped := []byte(code)
			swapped[i], swapped[i+1] = swapped[i+1], swapped[i]
			if string(swapped) != code {
				require.Error(t, checkdigit.ValidCode(string(swapped)), "%s read as %s", code, swapped)
			}
		}
	}
	_, err := domain.DrawCode(bytes.NewReader([]byte{1, 2, 3}))
	require.ErrorContains(t, err, "draw a sample code")
	_, err = domain.DrawCode(strings.NewReader(strings.Repeat("\xff", 40)))
	require.ErrorContains(t, err, "draw a sample code", "bytes that would favour some letters are passed over")
}

func TestJarsOfTheSameHoney(t *testing.T) {
	t.Parallel()
	first := []domain.Reading{reading(t, domain.MoisturePercent, "17.4", tech), reading(t, domain.PfundMM, "42", tech), reading(t, domain.FlavorPoints, "46", tech)}
	for _, c := range []struct {
		moisture, color string
		agree           []bool
	}{
		{"17.6", "45", []bool{true, true}},
		{"17.2", "39", []bool{true, true}},
		{"17.7", "45.1", []bool{false, false}},
		{"17.1", "42", []bool{false, true}},
	} {
		second := []domain.Reading{reading(t, domain.MoisturePercent, c.moisture, tech), reading(t, domain.PfundMM, c.color, tech)}
		var agree []bool
		for _, d := range domain.House().CompareJars(first, second) {
			agree = append(agree, d.Agrees)
		}
		require.Equal(t, c.agree, agree, "%s and %s", c.moisture, c.color)
	}
	apart := domain.House().CompareJars(first, []domain.Reading{reading(t, domain.MoisturePercent, "17.8", tech)})
	require.Equal(t, "water differs by 0.4 %, more than 0.2 %: read both again", apart[0].Words())
	require.Empty(t, domain.House().CompareJars(first, nil))
}

func TestBorderlineReadings(t *testing.T) {
	t.Parallel()
	for moisture, near := range map[string]bool{
		"18.3": false, "18.4": true, "18.6": true, "18.8": true, "18.9": false, "19.7": false, "19.8": true, "20.2": true, "20.3": false,
	} {
		_, got := domain.House().Borderline(house(), domain.Moisture, value(t, moisture))
		require.Equal(t, near, got, moisture)
	}
	_, got := domain.House().Borderline(house(), domain.Flavor, value(t, "45"))
	require.False(t, got, "points are not read again")
	r := reading(t, domain.MoisturePercent, "18.5", tech)
	require.Equal(t, "18.5 % is within 0.2 % of the limit of 18.6 %: read it twice more, the mean counts", domain.House().BorderlineWords(house(), &r))
}

func TestMeanOfThree(t *testing.T) {
	t.Parallel()
	mean := func(kind domain.Kind, first string, raw ...string) (domain.Reading, error) {
		standing := reading(t, kind, first, tech)
		return domain.NewMean(domain.Reading{ID: uuid.New(), Kind: kind, Analyst: tech}, &standing, raw)
	}
	for _, c := range []struct {
		first, second, third, want string
	}{
		{"18.7", "18.6", "18.6", "18.6"}, // 18.633
		{"18.7", "18.7", "18.6", "18.7"}, // 18.667
		{"18.65", "18.65", "18.65", "18.6"},
		{"18.65", "18.65", "18.66", "18.7"},
		{"18.6", "18.6", "18.75", "18.6"}, // exactly 18.65: a tie goes to the member
		{"18.6", "18.6", "18.6", "18.6"},
	} {
		r, err := mean(domain.MoisturePercent, c.first, c.second, c.third)
		require.NoError(t, err)
		require.Equal(t, value(t, c.want), r.Reported, "%v", c)
		require.True(t, r.Mean)
		require.NotNil(t, r.Replaces)
		require.Empty(t, domain.House().BorderlineWords(house(), &r), "it was read again already")
	}
	r, err := mean(domain.FlavorPoints, "44", "45", "45")
	require.NoError(t, err)
	require.Equal(t, value(t, "45"), r.Reported)
	r, err = mean(domain.MoisturePercent, "18.7", "18.6", "18.5")
	require.NoError(t, err)
	require.Equal(t, "Mean of 18.7, 18.6 and 18.5 is 18.6, reported as 18.6 % (rounded once, a tie to the member).", r.Explanation)

	_, err = mean(domain.MoisturePercent, "18.7", "18.6")
	require.ErrorContains(t, err, "exactly 2 times more")
	_, err = mean(domain.MoisturePercent, "18.7", "18.6", "1.86")
	require.ErrorContains(t, err, "outside 12.0 to 25.0")
	_, err = domain.NewMean(domain.Reading{Kind: domain.MoisturePercent, Sample: "X"}, nil, []string{"18", "18"})
	require.ErrorContains(t, err, "no single reading of water")
	_, err = domain.NewMean(domain.Reading{Kind: domain.MoisturePercent}, &r, []string{"18", "18"})
	require.ErrorContains(t, err, "no single reading of water")
}

func TestReleaseAsksForAgreement(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		change  func(*domain.Release)
		state   string
		message string
	}{
		"a duplicate": {func(r *domain.Release) { r.Sample.Original = "DRH3C9WY2" }, "DUPLICATE", "is a duplicate jar"},
		"jars apart": {
			func(r *domain.Release) {
				r.Differences = domain.House().CompareJars(r.Standing, []domain.Reading{reading(t, domain.MoisturePercent, "17.9", tech)})
			}, "DUPLICATE_DIFFERS", "water differs by 0.5 %",
		},
		"borderline": {
			func(r *domain.Release) {
				r.RereadsEnforced = true
				r.Standing[0] = reading(t, domain.MoisturePercent, "18.5", tech)
			}, "BORDERLINE", "read it twice more",
		},
	} {
		r := release(t)
		c.change(&r)
		_, err := r.Decide(house())
		var state *domain.StateError
		require.ErrorAs(t, err, &state, name)
		require.Equal(t, c.state, state.Metadata()["state"], name)
		require.ErrorContains(t, err, c.message)
	}
	r := release(t)
	r.Standing[0] = reading(t, domain.MoisturePercent, "18.5", tech)
	_, err := r.Decide(house())
	require.NoError(t, err, "not enforced, only advised")
}
