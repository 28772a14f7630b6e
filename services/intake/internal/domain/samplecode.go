package domain

import (
	"crypto/rand"
	"fmt"
	"io"
	"strings"

	"barrelhead.example/services/kit/checkdigit"
)

// Characters of blind codes. Left out are vowels, so that no code spells a word, and look-alikes until at most one of each
// group is left: 0 O, 1 I L, 2 Z, 5 S, 6 G, 8 B, U V.
const codeAlphabet = "23456789CDFHJKMNPQRTVWXY"

const codeBody = 8

// CodeSource draws blind sample codes.
type CodeSource struct{ Random io.Reader }

// SecureCodes draws from the operating system: a laboratory must not be able to tell from a code when or beside which
// others it was drawn.
var SecureCodes = CodeSource{Random: rand.Reader}

// Draw makes a code of eight random characters and a check character (ISO 7064 MOD 37,36). The scheme lets a few swaps of
// neighbours pass, and its check character may be a look-alike; codes with either are drawn again, so every code handed
// out betrays any one mistyped character and any swap of two neighbours.
func (c CodeSource) Draw() (string, error) {
	for {
		body, err := c.letters(codeBody)
		if err != nil {
			return "", fmt.Errorf("draw a sample code: %w", err)
		}
		check, err := checkdigit.Code(body)
		if err != nil {
			return "", fmt.Errorf("draw a sample code: %w", err)
		}
		if code := body + check; strings.Contains(codeAlphabet, check) && !survivesSwap(code) {
			return code, nil
		}
	}
}

// letters rejects the bytes above the largest multiple of the alphabet, which would favour its first letters.
func (c CodeSource) letters(n int) (string, error) {
	const fair = 256 - 256%len(codeAlphabet)
	body := make([]byte, 0, n)
	for buf := make([]byte, 1); len(body) < n; {
		if _, err := io.ReadFull(c.Random, buf); err != nil {
			return "", fmt.Errorf("read random bytes: %w", err)
		}
		if int(buf[0]) < fair {
			body = append(body, codeAlphabet[int(buf[0])%len(codeAlphabet)])
		}
	}
	return string(body), nil
}

func survivesSwap(code string) bool {
	for i := range len(code) - 1 {
		swapped := []byte(code)
		swapped[i], swapped[i+1] = swapped[i+1], swapped[i]
		if string(swapped) != code && checkdigit.ValidCode(string(swapped)) == nil {
			return true
		}
	}
	return false
}
