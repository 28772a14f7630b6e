// Package mtls makes the TLS configuration of both ends of a call between two services: TLS 1.3, a certificate on each
// side, one DNS name in each, everything read from files and read again when they change.
package mtls

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"os"
	"sync"
	"time"
)

// Files are the paths of PEM files: the authority both ends trust, and this process's certificate and key.
type Files struct {
	CA   string `json:"ca"`
	Cert string `json:"cert"`
	Key  string `json:"key"`
}

// Missing names the settings that are empty.
func (f Files) Missing() []string {
	var missing []string
	for _, setting := range []struct{ name, value string }{{"ca", f.CA}, {"cert", f.Cert}, {"key", f.Key}} {
		if setting.value == "" {
			missing = append(missing, setting.name)
		}
	}
	return missing
}

// pair is what one reading of the files gave.
type pair struct {
	certificate *tls.Certificate
	authorities *x509.CertPool
	stamp       [3]fileStamp
}

type fileStamp struct {
	changed time.Time
	size    int64
}

// Keeper holds the newest usable content of the files. It looks at the files at each handshake, so there is no
// background work to stop; a handshake is rare and three stat calls are cheap beside it.
type Keeper struct {
	files Files
	mu    sync.Mutex
	last  pair
	fault error
}

// Open reads the files once; a service with unusable certificates must not start.
func Open(files Files) (*Keeper, error) {
	k := &Keeper{files: files}
	loaded, err := read(files)
	if err != nil {
		return nil, err
	}
	k.last = loaded
	return k, nil
}

// current returns the newest content that could be read. A half-written renewal leaves the old one in force, for an
// expired certificate tomorrow is better than no service now; Err tells what is wrong.
func (k *Keeper) current() pair {
	k.mu.Lock()
	defer k.mu.Unlock()
	stamp, err := stampOf(k.files)
	if err == nil && stamp == k.last.stamp {
		return k.last
	}
	loaded, err := read(k.files)
	k.fault = err
	if err == nil {
		k.last = loaded
	}
	return k.last
}

// Err is the fault of the last reading, nil when the files in force are the newest.
func (k *Keeper) Err() error {
	k.current()
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.fault
}

// Expires is when the certificate in force ends.
func (k *Keeper) Expires() time.Time {
	return k.current().certificate.Leaf.NotAfter
}

// Name is the one DNS name of the certificate in force.
func (k *Keeper) Name() string {
	return k.current().certificate.Leaf.DNSNames[0]
}

func read(files Files) (pair, error) {
	stamp, err := stampOf(files)
	if err != nil {
		return pair{}, err
	}
	certificate, err := tls.LoadX509KeyPair(files.Cert, files.Key)
	if err != nil {
		return pair{}, fmt.Errorf("read certificate %s with key %s: %w", files.Cert, files.Key, err)
	}
	if names := certificate.Leaf.DNSNames; len(names) != 1 {
		return pair{}, fmt.Errorf("certificate %s has %d DNS names, must have exactly one", files.Cert, len(names))
	}
	authorities, err := readAuthorities(files.CA)
	if err != nil {
		return pair{}, err
	}
	return pair{certificate: &certificate, authorities: authorities, stamp: stamp}, nil
}

func readAuthorities(path string) (*x509.CertPool, error) {
	pem, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("read authority: %w", err)
	}
	pool := x509.NewCertPool()
	if !pool.AppendCertsFromPEM(pem) {
		return nil, fmt.Errorf("read authority: %s holds no certificate", path)
	}
	return pool, nil
}

func stampOf(files Files) ([3]fileStamp, error) {
	var stamp [3]fileStamp
	var faults []error
	for i, path := range []string{files.CA, files.Cert, files.Key} {
		info, err := os.Stat(path)
		if err != nil {
			faults = append(faults, err)
			continue
		}
		stamp[i] = fileStamp{changed: info.ModTime(), size: info.Size()}
	}
	return stamp, errors.Join(faults...)
}
