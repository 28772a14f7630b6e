package grading

import (
	"crypto/ed25519"
	"crypto/rand"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"barrelhead.example/services/grading/internal/domain"
)

const pemType = "PRIVATE KEY"

// openSigner reads the key certificates are signed with and makes one where the file does not exist yet. An empty path is
// no signer.
func openSigner(path string) (*domain.Signer, error) {
	if path == "" {
		return nil, nil
	}
	text, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		text, err = makeKey(path)
	}
	if err != nil {
		return nil, fmt.Errorf("signing key: %w", err)
	}
	block, _ := pem.Decode(text)
	if block == nil || block.Type != pemType {
		return nil, fmt.Errorf("signing key: %s holds no private key in PEM", path)
	}
	key, err := x509.ParsePKCS8PrivateKey(block.Bytes)
	if err != nil {
		return nil, fmt.Errorf("signing key: %s: %w", path, err)
	}
	private, ok := key.(ed25519.PrivateKey)
	if !ok {
		return nil, fmt.Errorf("signing key: %s holds a %T, must be Ed25519", path, key)
	}
	return domain.NewSigner(private), nil
}

// makeKey never replaces a file: of two processes starting at once the second reads what the first wrote.
func makeKey(path string) ([]byte, error) {
	_, private, err := ed25519.GenerateKey(rand.Reader)
	if err != nil {
		return nil, err
	}
	der, err := x509.MarshalPKCS8PrivateKey(private)
	if err != nil {
		return nil, err
	}
	made := path + ".new"
	if err := os.WriteFile(made, pem.EncodeToMemory(&pem.Block{Type: pemType, Bytes: der}), 0o600); err != nil {
		return nil, err
	}
	defer func() { _ = os.Remove(made) }() // a leftover is overwritten by the next start
	if err := os.Link(made, path); err != nil && !errors.Is(err, fs.ErrExist) {
		return nil, err
	}
	return os.ReadFile(path)
}
