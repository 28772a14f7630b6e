package mtls_test

import (
	"context"
	"crypto/tls"
	"errors"
	"net"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"barrelhead.example/deploy/certs"
	"barrelhead.example/services/kit/mtls"
)

func folder(t *testing.T, names ...string) string {
	t.Helper()
	dir := t.TempDir()
	_, err := certs.Ensure(dir, names, time.Now())
	require.NoError(t, err)
	return dir
}

func open(t *testing.T, dir, name string) *mtls.Keeper {
	t.Helper()
	k, err := mtls.Open(certs.Files(dir, name))
	require.NoError(t, err)
	return k
}

// shake makes one connection and returns what the server saw and what the client was told.
func shake(t *testing.T, server, client *tls.Config) (tls.ConnectionState, error) {
	t.Helper()
	here, there := net.Pipe()
	defer func() { _, _ = here.Close(), there.Close() }()
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	listening := tls.Server(here, server)
	done := make(chan error, 1)
	go func() { done <- listening.HandshakeContext(ctx) }()
	calling := tls.Client(there, client)
	err := calling.HandshakeContext(ctx)
	if err != nil {
		_ = there.Close()
		return tls.ConnectionState{}, errors.Join(err, <-done)
	}
	// The server's verdict on our certificate comes after our part is done, and a pipe has no buffer to leave it in.
	go func() { _, _ = calling.Read(make([]byte, 1)) }()
	err = <-done
	return listening.ConnectionState(), err
}

func TestHandshake_BothSidesAreNamed(t *testing.T) {
	t.Parallel()
	dir := folder(t, "intake", "gateway")
	state, err := shake(t, open(t, dir, "intake").Server(), open(t, dir, "gateway").Client("intake"))
	require.NoError(t, err)
	require.Equal(t, uint16(tls.VersionTLS13), state.Version)
	require.Equal(t, []string{"gateway"}, state.PeerCertificates[0].DNSNames)
}

func TestHandshake_Refuses(t *testing.T) {
	t.Parallel()
	dir, other := folder(t, "intake", "grading", "gateway"), folder(t, "intake", "gateway")
	server := func() *tls.Config { return open(t, dir, "intake").Server() }
	old := open(t, dir, "gateway").Client("intake")
	old.MinVersion, old.MaxVersion = tls.VersionTLS12, tls.VersionTLS12
	nameless := open(t, dir, "gateway").Client("intake")
	nameless.GetClientCertificate = func(*tls.CertificateRequestInfo) (*tls.Certificate, error) { return &tls.Certificate{}, nil }
	for name, client := range map[string]*tls.Config{
		"a server with another name":           open(t, dir, "gateway").Client("grading"),
		"a server of another authority":        open(t, other, "gateway").Client("intake"),
		"an older protocol":                    old,
		"a client that shows no certificate":   nameless,
		"a client that knows no authority yet": {MinVersion: tls.VersionTLS13, ServerName: "intake"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			_, err := shake(t, server(), client)
			require.Error(t, err)
		})
	}
}

func TestKeeper_TakesUpRenewedFiles(t *testing.T) {
	t.Parallel()
	dir := folder(t, "intake", "gateway")
	server, client := open(t, dir, "intake"), open(t, dir, "gateway")
	before := server.Expires()

	issued, err := certs.Ensure(dir, []string{"intake"}, time.Now().AddDate(1, 0, 10))
	require.NoError(t, err)
	require.Equal(t, []string{"intake"}, issued)
	require.True(t, server.Expires().After(before))
	require.NoError(t, server.Err())
	require.Equal(t, "intake", server.Name())

	// A whole new authority, both sides of which were opened before it existed.
	require.NoError(t, os.RemoveAll(dir))
	_, err = certs.Ensure(dir, []string{"intake", "gateway"}, time.Now())
	require.NoError(t, err)
	_, err = shake(t, server.Server(), client.Client("intake"))
	require.NoError(t, err)
}

func TestKeeper_KeepsTheOldWhenTheNewIsUnusable(t *testing.T) {
	t.Parallel()
	dir := folder(t, "intake", "gateway")
	server := open(t, dir, "intake")
	require.NoError(t, os.WriteFile(certs.Files(dir, "intake").Cert, []byte("half a fi"), 0o600))
	_, err := shake(t, server.Server(), open(t, dir, "gateway").Client("intake"))
	require.NoError(t, err)
	require.Error(t, server.Err(), "but it is known")
}

func TestOpen_RefusesUnusableFiles(t *testing.T) {
	t.Parallel()
	dir := folder(t, "intake", "gateway")
	files := certs.Files(dir, "intake")
	for name, spoiled := range map[string]mtls.Files{
		"an absent certificate": {CA: files.CA, Cert: files.Cert + ".gone", Key: files.Key},
		"another's key":         {CA: files.CA, Cert: files.Cert, Key: certs.Files(dir, "gateway").Key},
		"no authority":          {CA: files.Key, Cert: files.Cert, Key: files.Key},
		"an authority's name":   {CA: files.CA, Cert: files.CA, Key: dir + "/ca.key"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			_, err := mtls.Open(spoiled)
			require.Error(t, err)
		})
	}
	require.Equal(t, []string{"cert", "key"}, mtls.Files{CA: "ca.pem"}.Missing())
}

func TestPeerName_NeedsMutualTLS(t *testing.T) {
	t.Parallel()
	_, err := mtls.PeerName(context.Background())
	require.ErrorIs(t, err, mtls.ErrNoPeer)
}
