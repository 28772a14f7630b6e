package domain_test

import (
	"crypto/ed25519"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"barrelhead.example/services/grading/internal/domain"
)

// signed is a certificate with its stored documents and its signature.
func signed(t testing.TB) (domain.Certificate, domain.Documents, domain.Signature) {
	t.Helper()
	r := release(t)
	c, err := r.Decide(house())
	require.NoError(t, err)
	c.ID, c.Number, c.Time = uuid.New(), "G-2026-000001", time.Date(2026, 9, 14, 13, 0, 0, 1_000, time.UTC)
	docs, err := c.Documents()
	require.NoError(t, err)
	text, err := c.Payload(docs)
	require.NoError(t, err)
	return c, docs, domain.NewSigner(ed25519.NewKeyFromSeed(make([]byte, ed25519.SeedSize))).Sign(text)
}

func TestASignedCertificateIsGenuine(t *testing.T) {
	t.Parallel()
	c, docs, s := signed(t)
	verdict, text, err := c.Check(docs, &s, false)
	require.NoError(t, err)
	require.Equal(t, domain.Genuine, verdict)
	require.Equal(t, "Certificate G-2026-000001 is genuine: clover, A, 17.4 % water, issued on 2026-09-14.", text)
	_, text, err = c.Check(docs, &s, true)
	require.NoError(t, err)
	require.Contains(t, text, "superseded since")
	require.Len(t, s.Key.ID, 16)
	// What is shown to strangers names nobody.
	for _, hidden := range []string{tech, lead, c.Sample} {
		require.NotContains(t, s.Payload, hidden)
	}
	var shown map[string]any
	require.NoError(t, json.Unmarshal([]byte(s.Payload), &shown))
	require.Equal(t, "barrelhead.certificate.v1", shown["format"])
	require.Equal(t, "2026-09-14T13:00:00.000001Z", shown["issue_time"])
}

func TestAnyChangeIsFound(t *testing.T) {
	t.Parallel()
	for name, change := range map[string]func(*domain.Certificate, *domain.Documents, *domain.Signature){
		"grade":    func(c *domain.Certificate, _ *domain.Documents, _ *domain.Signature) { c.Decision.Grade = "B" },
		"moisture": func(c *domain.Certificate, _ *domain.Documents, _ *domain.Signature) { c.Decision.Moisture = "17.3" },
		"number":   func(c *domain.Certificate, _ *domain.Documents, _ *domain.Signature) { c.Number = "G-2026-000002" },
		"sample":   func(c *domain.Certificate, _ *domain.Documents, _ *domain.Signature) { c.Sample = "DRH3C9" },
		"releaser": func(c *domain.Certificate, _ *domain.Documents, _ *domain.Signature) { c.Releaser = tech },
		"time": func(c *domain.Certificate, _ *domain.Documents, _ *domain.Signature) {
			c.Time = c.Time.Add(time.Microsecond)
		},
		"replaced": func(c *domain.Certificate, _ *domain.Documents, _ *domain.Signature) {
			other := uuid.New()
			c.Supersedes = &other
		},
		"a reading": func(_ *domain.Certificate, d *domain.Documents, _ *domain.Signature) {
			d.Readings = []byte(strings.Replace(string(d.Readings), "420000", "340000", 1))
		},
		"a limit": func(_ *domain.Certificate, d *domain.Documents, _ *domain.Signature) {
			d.Decision = append(d.Decision, ' ')
		},
		"payload":   func(_ *domain.Certificate, _ *domain.Documents, s *domain.Signature) { s.Payload += " " },
		"signature": func(_ *domain.Certificate, _ *domain.Documents, s *domain.Signature) { s.Signature[5] ^= 1 },
		"no key":    func(_ *domain.Certificate, _ *domain.Documents, s *domain.Signature) { s.Key.Public = nil },
		"other key": func(_ *domain.Certificate, _ *domain.Documents, s *domain.Signature) {
			s.Key = domain.NewSigner(ed25519.NewKeyFromSeed([]byte(strings.Repeat("x", ed25519.SeedSize)))).Key()
		},
	} {
		c, docs, s := signed(t)
		change(&c, &docs, &s)
		verdict, text, err := c.Check(docs, &s, false)
		require.NoError(t, err)
		require.Equal(t, domain.Altered, verdict, name)
		require.Contains(t, text, "Do not rely on it")
	}
	c, docs, _ := signed(t)
	verdict, _, err := c.Check(docs, nil, false)
	require.NoError(t, err)
	require.Equal(t, domain.Unsigned, verdict)
}
