package session

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
)

const tokenBytes = 32

// newToken draws the secret a browser or program shows with each call. Only its hash is stored: who reads the database
// cannot sign in with what it holds.
func newToken() (string, error) {
	drawn := make([]byte, tokenBytes)
	if _, err := rand.Read(drawn); err != nil {
		return "", fmt.Errorf("draw a session token: %w", err)
	}
	return base64.RawURLEncoding.EncodeToString(drawn), nil
}

// tokenHash needs no salt and no cost: the token is random and long.
func tokenHash(token string) []byte {
	sum := sha256.Sum256([]byte(token))
	return sum[:]
}

// FormToken is the proof a form must carry that it was made by our own page: it follows from the session token, which
// another site can make the browser send but never read.
func FormToken(token string) string {
	mac := hmac.New(sha256.New, []byte(token))
	mac.Write([]byte("barrelhead form"))
	return base64.RawURLEncoding.EncodeToString(mac.Sum(nil))
}

// SameFormToken compares in constant time.
func SameFormToken(token, given string) bool {
	return hmac.Equal([]byte(FormToken(token)), []byte(given))
}

// Seal marks values a page of ours hands to the browser and takes back, so that they cannot be changed on the way. It is
// good for this session and these values in this order.
func Seal(token string, values ...string) string {
	mac := hmac.New(sha256.New, []byte(token))
	mac.Write([]byte("barrelhead seal"))
	for _, v := range values {
		fmt.Fprintf(mac, "\x00%d:%s", len(v), v)
	}
	return base64.RawURLEncoding.EncodeToString(mac.Sum(nil))
}

// Sealed compares in constant time.
func Sealed(token, seal string, values ...string) bool {
	return hmac.Equal([]byte(Seal(token, values...)), []byte(seal))
}
