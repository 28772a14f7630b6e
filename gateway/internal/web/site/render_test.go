package site_test

import (
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/web"
	"barrelhead.example/gateway/internal/web/site"
)

func TestPages_AllParse(t *testing.T) {
	t.Parallel()
	s, err := site.New(site.Options{})
	require.NoError(t, err)
	rooms := web.Rooms(s)
	_, err = s.Handler(rooms...)
	require.NoError(t, err)
	pages, err := s.Parsed()
	require.NoError(t, err)
	require.Greater(t, len(pages), 100)
	for name, page := range pages {
		require.NotNil(t, page.Lookup("main"), name)
	}
	for _, room := range rooms {
		require.NotEmpty(t, room.Pages)
	}
}

func TestPages_OfOneNameAreRefused(t *testing.T) {
	t.Parallel()
	s, err := site.New(site.Options{})
	require.NoError(t, err)
	one := site.Room{Files: fstest.MapFS{"pages/stock.html": {Data: []byte(`{{define "main"}}{{end}}`)}}}
	_, err = s.Handler(one)
	require.NoError(t, err)
	_, err = s.Handler(one, one)
	require.ErrorContains(t, err, `two pages are called "stock"`)
}
