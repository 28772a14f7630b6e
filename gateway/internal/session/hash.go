package session

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"strings"

	"golang.org/x/crypto/argon2"
)

// Cost is what one password check costs.
type Cost struct {
	// MemoryKiB is the memory of one check, at least 19456.
	MemoryKiB uint32
	// Passes over that memory, at least 2.
	Passes uint32
}

// DefaultCost is 19 MiB and two passes, from memory of the OWASP password storage advice.
var DefaultCost = Cost{MemoryKiB: 19 * 1024, Passes: 2}

const (
	saltBytes = 16
	keyBytes  = 32
	// mostChecks bounds how many checks run at once: each needs its own memory, and a flood of sign-ins must not take all.
	mostChecks = 4
)

var errHashFormat = errors.New("the stored password hash cannot be read")

// hasher makes and compares hashes in the PHC text form "$argon2id$v=19$m=…,t=…,p=1$salt$key".
type hasher struct {
	cost  Cost
	slots chan struct{}
	// nobody is compared with for a login that does not exist, so that both answers take the same time.
	nobody string
	// derive is what takes the time.
	derive func(cost Cost, password string, salt []byte) []byte
}

func newHasher(cost Cost) *hasher {
	h := &hasher{cost: cost, slots: make(chan struct{}, mostChecks), derive: derive}
	salt := make([]byte, saltBytes)
	h.nobody = encode(cost, salt, make([]byte, keyBytes))
	return h
}

func (h *hasher) make(ctx context.Context, password string) (string, error) {
	release, err := h.slot(ctx)
	if err != nil {
		return "", err
	}
	defer release()
	salt := make([]byte, saltBytes)
	if _, err := rand.Read(salt); err != nil {
		return "", fmt.Errorf("draw a salt: %w", err)
	}
	return encode(h.cost, salt, h.derive(h.cost, password, salt)), nil
}

// matches reports whether password made hash. An empty hash stands for a login that does not exist: it costs the same
// and never matches.
func (h *hasher) matches(ctx context.Context, hash, password string) (bool, error) {
	release, err := h.slot(ctx)
	if err != nil {
		return false, err
	}
	defer release()
	known := hash != ""
	if !known {
		hash = h.nobody
	}
	cost, salt, key, err := decode(hash)
	if err != nil {
		return false, err
	}
	same := subtle.ConstantTimeCompare(key, h.derive(cost, password, salt)) == 1
	return same && known, nil
}

// outdated reports that hash was made at another cost than today's.
func (h *hasher) outdated(hash string) bool {
	cost, _, _, err := decode(hash)
	return err == nil && cost != h.cost
}

func (h *hasher) slot(ctx context.Context) (release func(), err error) {
	select {
	case h.slots <- struct{}{}:
		return func() { <-h.slots }, nil
	case <-ctx.Done():
		return nil, fmt.Errorf("wait for a password check: %w", ctx.Err())
	}
}

func derive(cost Cost, password string, salt []byte) []byte {
	return argon2.IDKey([]byte(password), salt, cost.Passes, cost.MemoryKiB, 1, keyBytes)
}

func encode(cost Cost, salt, key []byte) string {
	text := base64.RawStdEncoding
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=1$%s$%s", argon2.Version, cost.MemoryKiB, cost.Passes,
		text.EncodeToString(salt), text.EncodeToString(key))
}

func decode(hash string) (cost Cost, salt, key []byte, err error) {
	var version int
	var tail string
	if _, err := fmt.Sscanf(hash, "$argon2id$v=%d$m=%d,t=%d,p=1$%s", &version, &cost.MemoryKiB, &cost.Passes, &tail); err != nil {
		return Cost{}, nil, nil, errHashFormat
	}
	if version != argon2.Version || cost.Passes == 0 {
		return Cost{}, nil, nil, errHashFormat
	}
	salt, key, err = decodeTail(tail)
	return cost, salt, key, err
}

func decodeTail(tail string) (salt, key []byte, err error) {
	before, after, found := strings.Cut(tail, "$")
	if !found {
		return nil, nil, errHashFormat
	}
	text := base64.RawStdEncoding
	salt, err = text.DecodeString(before)
	if err != nil {
		return nil, nil, errHashFormat
	}
	key, err = text.DecodeString(after)
	if err != nil || len(key) != keyBytes {
		return nil, nil, errHashFormat
	}
	return salt, key, nil
}
