package mtls

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"

	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/peer"
)

// Server is the configuration of the listening side. Every client must show a certificate of the authority.
func (k *Keeper) Server() *tls.Config {
	return &tls.Config{
		MinVersion: tls.VersionTLS13,
		// Per connection, so that a renewed authority counts as well as a renewed certificate.
		GetConfigForClient: func(*tls.ClientHelloInfo) (*tls.Config, error) {
			now := k.current()
			return &tls.Config{
				MinVersion:   tls.VersionTLS13,
				Certificates: []tls.Certificate{*now.certificate},
				ClientCAs:    now.authorities,
				ClientAuth:   tls.RequireAndVerifyClientCert,
				NextProtos:   []string{"h2"},
				// A resumed session would go on trusting a certificate the files no longer do.
				SessionTicketsDisabled: true,
			}, nil
		},
	}
}

// Client is the configuration of the calling side. The server must prove to be name.
func (k *Keeper) Client(name string) *tls.Config {
	return &tls.Config{
		MinVersion: tls.VersionTLS13,
		ServerName: name,
		NextProtos: []string{"h2"},
		GetClientCertificate: func(*tls.CertificateRequestInfo) (*tls.Certificate, error) {
			return k.current().certificate, nil
		},
		// The standard check has a fixed pool of authorities; ours may have been renewed since, so the same check is
		// made below with the pool of the moment.
		InsecureSkipVerify: true, //nolint:gosec // VerifyConnection verifies chain, name and purpose
		VerifyConnection: func(state tls.ConnectionState) error {
			return verify(state, k.current().authorities, name)
		},
	}
}

func verify(state tls.ConnectionState, authorities *x509.CertPool, name string) error {
	if len(state.PeerCertificates) == 0 {
		return errors.New("the server showed no certificate")
	}
	between := x509.NewCertPool()
	for _, c := range state.PeerCertificates[1:] {
		between.AddCert(c)
	}
	_, err := state.PeerCertificates[0].Verify(x509.VerifyOptions{
		DNSName: name, Roots: authorities, Intermediates: between,
		KeyUsages: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	})
	if err != nil {
		return fmt.Errorf("verify certificate of %s: %w", name, err)
	}
	return nil
}

// ErrNoPeer is returned for a call that did not come through mutual TLS.
var ErrNoPeer = errors.New("the caller showed no certificate with exactly one DNS name")

// PeerName is the DNS name in the certificate of the process at the other end of the call.
func PeerName(ctx context.Context) (string, error) {
	p, ok := peer.FromContext(ctx)
	if !ok {
		return "", ErrNoPeer
	}
	info, ok := p.AuthInfo.(credentials.TLSInfo)
	if !ok || len(info.State.VerifiedChains) == 0 {
		return "", ErrNoPeer
	}
	leaf := info.State.VerifiedChains[0][0]
	if len(leaf.DNSNames) != 1 {
		return "", ErrNoPeer
	}
	return leaf.DNSNames[0], nil
}
