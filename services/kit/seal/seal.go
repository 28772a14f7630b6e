// Package seal keeps short secrets unreadable in a database: AES-256-GCM under a key from a file, which no backup of the
// database holds. Keys are changed by putting a new one first; the old ones still open what they sealed.
package seal

import (
	"crypto/aes"
	"crypto/cipher"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// keyLength is that of AES-256.
const keyLength = 32

// ErrNoKey means that no key is configured: nothing can be sealed, and nothing is stored in clear instead.
var ErrNoKey = errors.New("no key is configured")

// ErrUnknownKey means that a secret was sealed under a key that is not among those given.
var ErrUnknownKey = errors.New("the key it was sealed under is not among those given")

// ErrTampered means that a sealed secret, or what it belongs to, is not what was sealed.
var ErrTampered = errors.New("the sealed secret is not what was sealed")

// Ring is the keys. The zero Ring has none.
type Ring struct {
	current string
	keys    map[string]key
}

type key struct {
	aead cipher.AEAD
	mac  []byte
}

// Load reads keys from files of 64 hexadecimal digits each. The first seals; it is made where its file does not exist yet.
// Errors: a file that cannot be read or made, or that holds no key.
func Load(files ...string) (*Ring, error) {
	r := &Ring{keys: map[string]key{}}
	for i, file := range files {
		raw, err := os.ReadFile(file)
		if errors.Is(err, fs.ErrNotExist) && i == 0 {
			raw, err = create(file)
		}
		if err != nil {
			return nil, fmt.Errorf("key file: %w", err)
		}
		secret, err := hex.DecodeString(strings.TrimSpace(string(raw)))
		if err != nil || len(secret) != keyLength {
			return nil, fmt.Errorf("key file: %s does not hold %d hexadecimal digits", file, 2*keyLength)
		}
		id, err := r.add(secret)
		if err != nil {
			return nil, err
		}
		if i == 0 {
			r.current = id
		}
	}
	return r, nil
}

// create makes a key that only this user may read. Two processes that start at once end with one key: who comes second reads
// what is there.
func create(file string) ([]byte, error) {
	secret := make([]byte, keyLength)
	if _, err := rand.Read(secret); err != nil {
		return nil, fmt.Errorf("make a key: %w", err)
	}
	written, err := os.CreateTemp(filepath.Dir(file), "."+filepath.Base(file)+"-")
	if err != nil {
		return nil, fmt.Errorf("make a key: %w", err)
	}
	defer func() { _ = os.Remove(written.Name()) }() // it has its other name by then
	_, err = written.WriteString(hex.EncodeToString(secret) + "\n")
	if err = errors.Join(err, written.Sync(), written.Close()); err != nil {
		return nil, fmt.Errorf("make a key: %w", err)
	}
	if err := os.Link(written.Name(), file); err != nil && !errors.Is(err, fs.ErrExist) {
		return nil, fmt.Errorf("make a key: %w", err)
	}
	return os.ReadFile(file)
}

// add derives a key for each use from the secret, and names it by a digest that does not give it away.
func (r *Ring) add(secret []byte) (id string, err error) {
	derive := func(use string) []byte {
		m := hmac.New(sha256.New, secret)
		m.Write([]byte(use))
		return m.Sum(nil)
	}
	block, err := aes.NewCipher(derive("seal"))
	if err != nil {
		return "", fmt.Errorf("prepare a key: %w", err)
	}
	k := key{mac: derive("mark")}
	if k.aead, err = cipher.NewGCMWithRandomNonce(block); err != nil {
		return "", fmt.Errorf("prepare a key: %w", err)
	}
	id = hex.EncodeToString(derive("name")[:4])
	r.keys[id] = k
	return id, nil
}

// Current names the key that seals; empty where there is none.
func (r *Ring) Current() string {
	if r == nil {
		return ""
	}
	return r.current
}

// Seal makes a secret unreadable. belongs names what it belongs to: moved to anything else it does not open. Errors: ErrNoKey.
func (r *Ring) Seal(secret []byte, belongs string) (keyID string, sealed []byte, err error) {
	if r.Current() == "" {
		return "", nil, ErrNoKey
	}
	return r.current, r.keys[r.current].aead.Seal(nil, nil, secret, []byte(belongs)), nil //nolint:gosec // the cipher draws a nonce itself and takes none
}

// Open is the secret again. Errors: ErrUnknownKey, ErrTampered.
func (r *Ring) Open(keyID string, sealed []byte, belongs string) ([]byte, error) {
	if r == nil {
		return nil, ErrUnknownKey
	}
	k, known := r.keys[keyID]
	if !known {
		return nil, fmt.Errorf("key %s: %w", keyID, ErrUnknownKey)
	}
	secret, err := k.aead.Open(nil, nil, sealed, []byte(belongs))
	if err != nil {
		return nil, ErrTampered
	}
	return secret, nil
}

// Mark is the same for the same text and tells nobody without the key which text it was. Errors: ErrNoKey.
func (r *Ring) Mark(text string) (string, error) {
	if r.Current() == "" {
		return "", ErrNoKey
	}
	m := hmac.New(sha256.New, r.keys[r.current].mac)
	m.Write([]byte(text))
	return hex.EncodeToString(m.Sum(nil)), nil
}
