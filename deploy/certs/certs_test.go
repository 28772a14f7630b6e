package certs_test

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/tls"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"barrelhead.example/deploy/certs"
)

var opening = time.Date(2026, 9, 1, 7, 0, 0, 0, time.UTC)

func TestEnsure_MakesOneNameEach(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "certs")
	issued, err := certs.Ensure(dir, certs.Names(), opening)
	require.NoError(t, err)
	require.Equal(t, certs.Names(), issued)
	for _, name := range certs.Names() {
		files := certs.Files(dir, name)
		pair, err := tls.LoadX509KeyPair(files.Cert, files.Key)
		require.NoError(t, err)
		require.Equal(t, []string{name}, pair.Leaf.DNSNames)
		public, ok := pair.Leaf.PublicKey.(*ecdsa.PublicKey)
		require.True(t, ok)
		require.Equal(t, elliptic.P256(), public.Curve)
		info, err := os.Stat(files.Key)
		require.NoError(t, err)
		require.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	}
}

func TestEnsure_KeepsWhatIsGoodAndRenewsInTime(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	_, err := certs.Ensure(dir, []string{"intake", "grading"}, opening)
	require.NoError(t, err)

	issued, err := certs.Ensure(dir, []string{"intake", "grading", "gateway"}, opening.AddDate(0, 6, 0))
	require.NoError(t, err)
	require.Equal(t, []string{"gateway"}, issued)

	issued, err = certs.Ensure(dir, []string{"intake", "gateway"}, opening.AddDate(1, 0, 10))
	require.NoError(t, err)
	require.Equal(t, []string{"intake"}, issued, "intake has 23 days left, gateway half a year")
}

func TestEnsure_ANewAuthorityReissuesEverything(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	_, err := certs.Ensure(dir, []string{"intake"}, opening)
	require.NoError(t, err)
	require.NoError(t, os.Remove(filepath.Join(dir, "ca.pem")))
	require.NoError(t, os.Remove(filepath.Join(dir, "ca.key")))
	issued, err := certs.Ensure(dir, []string{"intake"}, opening)
	require.NoError(t, err)
	require.Equal(t, []string{"intake"}, issued)
}

func TestEnsure_ADamagedAuthorityIsNotReplaced(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	_, err := certs.Ensure(dir, []string{"intake"}, opening)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "ca.pem"), []byte("scratched"), 0o600))
	_, err = certs.Ensure(dir, []string{"intake"}, opening)
	require.ErrorContains(t, err, "read authority")
}
