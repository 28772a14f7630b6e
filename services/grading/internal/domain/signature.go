package domain

import (
	"crypto/ed25519"
	"crypto/sha256"
	"crypto/x509"
	"encoding/hex"
	"encoding/json"
	"encoding/pem"
	"fmt"
	"time"
)

// payloadFormat names the shape of what is signed. A change of shape is a new name: old payloads stay as they are.
const payloadFormat = "barrelhead.certificate.v1"

// payload is what is signed: what a buyer is shown, and a hash that ties it to the whole record without telling who
// measured. Field order is part of the format.
type payload struct {
	Format          string `json:"format"`
	Certificate     string `json:"certificate"`
	Number          string `json:"number"`
	Variety         string `json:"variety"`
	CropYear        int32  `json:"crop_year"`
	Style           string `json:"style"`
	Standard        string `json:"standard"`
	StandardVersion string `json:"standard_version"`
	Grade           string `json:"grade"`
	ColorClass      string `json:"color_class"`
	Total           string `json:"total_score"`
	Moisture        string `json:"moisture_percent"`
	Color           string `json:"pfund_mm"`
	IssueTime       string `json:"issue_time"`
	Supersedes      string `json:"supersedes"`
	RecordSHA256    string `json:"record_sha256"`
}

// Documents are the decision and the readings as they are stored.
type Documents struct{ Decision, Readings []byte }

// Documents writes down what is stored with a certificate.
func (c *Certificate) Documents() (Documents, error) {
	decision, err := json.Marshal(c.Decision)
	if err != nil {
		return Documents{}, fmt.Errorf("write the decision down: %w", err)
	}
	readings, err := json.Marshal(c.Readings)
	if err != nil {
		return Documents{}, fmt.Errorf("write the readings down: %w", err)
	}
	return Documents{decision, readings}, nil
}

// Payload is the text that is signed. It is made from the stored documents and not from what they were read into, so that
// a later release of the program makes the same text.
func (c *Certificate) Payload(docs Documents) (string, error) {
	record, err := json.Marshal([]string{c.Sample, c.Releaser, c.Reason, string(docs.Decision), string(docs.Readings)})
	if err != nil {
		return "", fmt.Errorf("hash the record: %w", err)
	}
	sum := sha256.Sum256(record)
	p := payload{
		Format: payloadFormat, Certificate: c.Name(), Number: c.Number, Variety: c.Variety, CropYear: c.CropYear, Style: c.Style.String(),
		Standard: c.Decision.Standard, StandardVersion: c.Decision.StandardVersion, Grade: c.Decision.Grade, ColorClass: c.Decision.ColorClass,
		Total: c.Decision.Total, Moisture: c.Decision.Moisture, Color: c.Decision.Color,
		IssueTime: c.Time.UTC().Format(time.RFC3339Nano), RecordSHA256: hex.EncodeToString(sum[:]),
	}
	if c.Supersedes != nil {
		p.Supersedes = CertificateName(*c.Supersedes)
	}
	text, err := json.Marshal(p)
	if err != nil {
		return "", fmt.Errorf("write the payload: %w", err)
	}
	return string(text), nil
}

// Signature is a signed payload.
type Signature struct {
	Key       SigningKey
	Payload   string
	Signature []byte
}

// SigningKey is a public key by which signatures are checked.
type SigningKey struct {
	// ID is the beginning of the hash of the key.
	ID     string
	Public ed25519.PublicKey
}

// PEM is the public key as a file other programs read (RFC 8410); empty for a key that is none.
func (k SigningKey) PEM() string {
	der, err := x509.MarshalPKIXPublicKey(k.Public)
	if err != nil || len(k.Public) != ed25519.PublicKeySize {
		return ""
	}
	return string(pem.EncodeToMemory(&pem.Block{Type: "PUBLIC KEY", Bytes: der}))
}

// Signer signs with the laboratory's key.
type Signer struct{ private ed25519.PrivateKey }

// NewSigner signs with a private key.
func NewSigner(private ed25519.PrivateKey) *Signer { return &Signer{private} }

// Key is the public key of the signer.
func (s *Signer) Key() SigningKey {
	public, _ := s.private.Public().(ed25519.PublicKey)
	sum := sha256.Sum256(public)
	return SigningKey{ID: hex.EncodeToString(sum[:8]), Public: public}
}

// Sign signs a payload.
func (s *Signer) Sign(text string) Signature {
	return Signature{Key: s.Key(), Payload: text, Signature: ed25519.Sign(s.private, []byte(text))}
}

// Authenticity is what checking a signature says.
type Authenticity string

// What can be said of a certificate.
const (
	Genuine  Authenticity = "GENUINE"
	Altered  Authenticity = "ALTERED"
	Unsigned Authenticity = "UNSIGNED"
)

// Check compares a certificate as it is stored now with what was signed; s is nil for one that never was. It returns the
// verdict and a sentence for the person who asked.
func (c *Certificate) Check(docs Documents, s *Signature, superseded bool) (Authenticity, string, error) {
	if s == nil {
		return Unsigned, "Certificate " + c.Number + " was issued without a signature.", nil
	}
	now, err := c.Payload(docs)
	if err != nil {
		return "", "", err
	}
	if now != s.Payload || len(s.Key.Public) != ed25519.PublicKeySize || !ed25519.Verify(s.Key.Public, []byte(s.Payload), s.Signature) {
		return Altered, "The record of certificate " + c.Number + " is not what was signed. Do not rely on it.", nil
	}
	text := fmt.Sprintf("Certificate %s is genuine: %s, %s, %s %% water, issued on %s.", c.Number, c.Variety,
		c.Decision.Grade, c.Decision.Moisture, c.Time.UTC().Format(time.DateOnly))
	if superseded {
		text += " It was superseded since: another certificate stands in its place."
	}
	return Genuine, text, nil
}
