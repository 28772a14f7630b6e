// Package certs makes a private authority and one certificate per service, for development, tests and the one-process
// installation. A cooperative that has its own authority needs none of it: the services read any PEM files.
package certs

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"errors"
	"fmt"
	"math/big"
	"os"
	"path/filepath"
	"time"

	"barrelhead.example/services/kit/mtls"
)

// Names are the processes that need a certificate. The name is the certificate's one DNS name, and what the allow-lists
// of the services speak of. "operator" is for the command line of the person who runs the suite.
func Names() []string {
	return []string{"intake", "grading", "inventory", "settlement", "gateway", "operator"}
}

const (
	authorityLife = 10 * 365 * 24 * time.Hour
	// A little over a year, so that a yearly reminder is in time.
	certificateLife = 398 * 24 * time.Hour
	renewBefore     = 30 * 24 * time.Hour
	// Clocks of machines in one building differ.
	skew = time.Hour
)

// Files are the paths of the certificate of name in dir.
func Files(dir, name string) mtls.Files {
	return mtls.Files{
		CA:   filepath.Join(dir, "ca.pem"),
		Cert: filepath.Join(dir, name+".pem"),
		Key:  filepath.Join(dir, name+".key"),
	}
}

// Ensure makes what is missing in dir: the authority, then a certificate for each name. A certificate with more than
// thirty days left, issued by the authority that is there, is kept; so running it again changes nothing, and running it
// monthly renews in time. It returns the names it issued for.
func Ensure(dir string, names []string, now time.Time) ([]string, error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("make folder for certificates: %w", err)
	}
	ca, err := ensureAuthority(dir, now)
	if err != nil {
		return nil, err
	}
	var issued []string
	for _, name := range names {
		if ca.stillGood(Files(dir, name), name, now) {
			continue
		}
		if err := ca.issue(Files(dir, name), name, now); err != nil {
			return issued, fmt.Errorf("issue certificate of %s: %w", name, err)
		}
		issued = append(issued, name)
	}
	return issued, nil
}

type authority struct {
	certificate *x509.Certificate
	key         *ecdsa.PrivateKey
}

func ensureAuthority(dir string, now time.Time) (authority, error) {
	certPath, keyPath := filepath.Join(dir, "ca.pem"), filepath.Join(dir, "ca.key")
	found, err := readPair(certPath, keyPath)
	switch {
	case err == nil && now.Add(renewBefore).Before(found.certificate.NotAfter):
		return found, nil
	case err != nil && !errors.Is(err, os.ErrNotExist):
		// Replacing an authority locks every running service out, so a damaged one is for a person to look at.
		return authority{}, fmt.Errorf("read authority: %w (remove %s to begin anew)", err, dir)
	}
	return newAuthority(certPath, keyPath, now)
}

func newAuthority(certPath, keyPath string, now time.Time) (authority, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return authority{}, fmt.Errorf("make key of authority: %w", err)
	}
	template, err := newTemplate("private authority", now, authorityLife)
	if err != nil {
		return authority{}, err
	}
	template.IsCA = true
	template.BasicConstraintsValid = true
	template.MaxPathLenZero = true
	template.KeyUsage = x509.KeyUsageCertSign | x509.KeyUsageCRLSign
	certificate, err := sign(template, template, &key.PublicKey, key)
	if err != nil {
		return authority{}, err
	}
	if err := writePair(certPath, keyPath, certificate.Raw, key); err != nil {
		return authority{}, err
	}
	return authority{certificate: certificate, key: key}, nil
}

// issue writes the key before the certificate. A reader between the two sees a pair that does not match and keeps the
// old one.
func (a authority) issue(files mtls.Files, name string, now time.Time) error {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return fmt.Errorf("make key: %w", err)
	}
	template, err := newTemplate(name, now, certificateLife)
	if err != nil {
		return err
	}
	template.DNSNames = []string{name}
	template.KeyUsage = x509.KeyUsageDigitalSignature
	// Every process listens or calls, most do both.
	template.ExtKeyUsage = []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth, x509.ExtKeyUsageClientAuth}
	certificate, err := sign(template, a.certificate, &key.PublicKey, a.key)
	if err != nil {
		return err
	}
	return writePair(files.Cert, files.Key, certificate.Raw, key)
}

func (a authority) stillGood(files mtls.Files, name string, now time.Time) bool {
	found, err := readPair(files.Cert, files.Key)
	if err != nil {
		return false
	}
	pool := x509.NewCertPool()
	pool.AddCert(a.certificate)
	_, err = found.certificate.Verify(x509.VerifyOptions{
		Roots: pool, DNSName: name, CurrentTime: now.Add(renewBefore), KeyUsages: []x509.ExtKeyUsage{x509.ExtKeyUsageAny},
	})
	return err == nil
}

func newTemplate(name string, now time.Time, life time.Duration) (*x509.Certificate, error) {
	serial, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 127))
	if err != nil {
		return nil, fmt.Errorf("draw serial number: %w", err)
	}
	return &x509.Certificate{
		SerialNumber: serial,
		Subject:      pkix.Name{Organization: []string{"Barrelhead"}, CommonName: name},
		NotBefore:    now.Add(-skew),
		NotAfter:     now.Add(life),
	}, nil
}

func sign(template, parent *x509.Certificate, public *ecdsa.PublicKey, key *ecdsa.PrivateKey) (*x509.Certificate, error) {
	der, err := x509.CreateCertificate(rand.Reader, template, parent, public, key)
	if err != nil {
		return nil, fmt.Errorf("sign certificate: %w", err)
	}
	certificate, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, fmt.Errorf("read back certificate: %w", err)
	}
	return certificate, nil
}
