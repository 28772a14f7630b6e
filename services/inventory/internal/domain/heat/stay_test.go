package heat

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func said(by string, limit Celsius, hour int) Allowance {
	return Allowance{Stay: "S", Limit: limit, Reason: "yeast", Allower: by, Time: start.Add(time.Duration(hour) * time.Hour)}
}

func TestAScaldingStayRestsOnTheOldestAllowanceOfSomebodyElse(t *testing.T) {
	t.Parallel()
	cases := []struct {
		name          string
		limit         Celsius
		said          []Allowance
		second        string
		hour          int
		reason, words string
	}{
		{name: "below it nobody is asked", limit: Scalding - 1},
		{name: "nobody said so", limit: Scalding, reason: "STATE_FORBIDS", words: "stay S is meant to be up to 62.8 °C: from 62.8 °C (145 °F) on, another person must allow it before its first readings, and say why"},
		{name: "one's own word", limit: Scalding, said: []Allowance{said("a", 70_0, 0)}, reason: "SAME_PERSON", words: "; a allowed it and cannot record its first readings too"},
		{name: "less than asked", limit: 65_0, said: []Allowance{said("b", 63_0, 0), said("a", 70_0, 1), said("c", 64_9, 2)}, reason: "STATE_FORBIDS", words: "; so far at most 64.9 °C are allowed"},
		{name: "as asked", limit: 65_0, said: []Allowance{said("b", 65_0, 0)}, second: "b"},
		{name: "own, too little, enough, and less again", limit: 65_0, said: []Allowance{said("a", 70_0, 0), said("b", 63_0, 1), said("b", 66_0, 2), said("c", 67_0, 3), said("b", 62_8, 4)}, second: "b", hour: 2},
	}
	for _, c := range cases {
		s := Stay{ID: "S", Limit: c.limit, Opener: "a", Allowances: c.said}
		err := s.Open()
		if c.reason != "" {
			refusal, is := errors.AsType[*UnallowedError](err)
			require.True(t, is, c.name)
			require.Equal(t, c.reason, refusal.Reason(), c.name)
			require.Contains(t, refusal.Error(), c.words, c.name)
			require.Equal(t, "heatStays/S", refusal.Metadata()["resource"], c.name)
			require.Nil(t, s.Second(), c.name)
			continue
		}
		require.NoError(t, err, c.name)
		if c.second == "" {
			require.Nil(t, s.Second(), c.name)
			continue
		}
		require.Equal(t, c.second, s.Second().Allower, c.name)
		require.Equal(t, start.Add(time.Duration(c.hour)*time.Hour), s.Second().Time, c.name)
	}
}

func TestHotIsAllowedAsFarAndFromWhenSomebodyElseSaidSo(t *testing.T) {
	t.Parallel()
	hot := func(l Log) (from []time.Time) {
		for _, a := range Total([]Log{l}).Alarms {
			if a.Kind == Scald {
				require.True(t, a.Holds())
				from = append(from, a.From)
			}
		}
		return from
	}
	l := log(2, 45_0)
	l.Opener, l.Limit = "a", Scalding
	l.Readings[2].Celsius, l.Readings[6].Celsius = Scalding, 66_0
	both := []time.Time{l.Readings[2].Time, l.Readings[6].Time}
	require.Equal(t, both, hot(l))
	l.Allowances = []Allowance{said("a", 70_0, 0)}
	require.Equal(t, both, hot(l), "one's own word is nobody else's")
	l.Allowances = []Allowance{said("b", Scalding, 0)}
	require.Equal(t, both[1:], hot(l), "not as hot")
	l.Allowances = append(l.Allowances, said("c", 66_0, 1))
	require.Empty(t, hot(l), "each for its own")
	l.Allowances = l.Allowances[1:]
	require.Equal(t, both[:1], hot(l), "not yet")
	l.Allowances[0].Time = l.Readings[2].Time
	require.Empty(t, hot(l), "just then")
	l.Limit = RoomLimit
	require.Empty(t, hot(l), "allowed, though not meant to be; that is another alarm")
	require.Equal(t, Over, Total([]Log{l}).Alarms[0].Kind)

	l.Limit, l.Allowances, l.Typed = Scalding, nil, "b"
	require.Empty(t, hot(l), "as it was typed")
	l.Limit = RoomLimit
	require.Equal(t, both, hot(l), "typed where nobody was asked for")
}

func TestAnAllowanceIsForScaldingHeatOnly(t *testing.T) {
	t.Parallel()
	for limit, good := range map[Celsius]bool{0: false, Scalding - 1: false, Scalding: true, Boiling: true, Boiling + 1: false} {
		err := Allowance{Limit: limit}.Check()
		require.Equal(t, good, err == nil, "%s", limit)
	}
}
