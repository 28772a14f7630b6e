package certs

import (
	"crypto/ecdsa"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"fmt"
	"os"
)

func readPair(certPath, keyPath string) (authority, error) {
	pair, err := tls.LoadX509KeyPair(certPath, keyPath)
	if err != nil {
		return authority{}, fmt.Errorf("read %s: %w", certPath, err)
	}
	key, ok := pair.PrivateKey.(*ecdsa.PrivateKey)
	if !ok {
		return authority{}, fmt.Errorf("read %s: not an ECDSA key", keyPath)
	}
	return authority{certificate: pair.Leaf, key: key}, nil
}

func writePair(certPath, keyPath string, certificate []byte, key *ecdsa.PrivateKey) error {
	der, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return fmt.Errorf("encode key: %w", err)
	}
	if err := writePEM(keyPath, "PRIVATE KEY", der, 0o600); err != nil {
		return err
	}
	return writePEM(certPath, "CERTIFICATE", certificate, 0o644)
}

// writePEM replaces the file in one step: a service may read it at any moment.
func writePEM(path, kind string, der []byte, mode os.FileMode) error {
	fresh := path + ".new"
	if err := os.WriteFile(fresh, pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: der}), mode); err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	if err := os.Rename(fresh, path); err != nil {
		return fmt.Errorf("put %s in place: %w", path, err)
	}
	return nil
}
