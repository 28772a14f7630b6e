package main

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestAClusterStandsOnDiskWhereMemoryIsNoPlaceForIt(t *testing.T) {
	t.Parallel()
	require.Empty(t, parent(t.TempDir()+"/missing"))
	require.Empty(t, parent("/proc"), "a file system of another kind")
}
