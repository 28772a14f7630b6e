package web

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestPages_AllParse(t *testing.T) {
	t.Parallel()
	s := &site{}
	pages, err := s.readPages()
	require.NoError(t, err)
	require.Greater(t, len(pages), 100)
	for name, page := range pages {
		parsed, err := page()
		require.NoError(t, err, name)
		require.NotNil(t, parsed.Lookup("main"), name)
	}
}
