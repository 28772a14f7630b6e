package domain_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/checkdigit"
)

const anyCharacter = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"

func TestOneMistakeInACodeIsAlwaysFound(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		random := rapid.SliceOfN(rapid.Byte(), 4_000, 4_000).Draw(t, "random")
		code, err := domain.CodeSource{Random: bytes.NewReader(random)}.Draw()
		if err != nil {
			// Bytes that never give a code, such as thousands of equal ones, run out.
			return
		}
		require.Len(t, code, 9)
		require.NoError(t, checkdigit.ValidCode(code))
		for i := range code {
			for _, other := range anyCharacter {
				if wrong := code[:i] + string(other) + code[i+1:]; wrong != code {
					require.ErrorIs(t, checkdigit.ValidCode(wrong), checkdigit.ErrCheck)
				}
			}
			if i > 0 && code[i-1] != code[i] {
				swapped := code[:i-1] + string(code[i]) + string(code[i-1]) + code[i+1:]
				require.ErrorIs(t, checkdigit.ValidCode(swapped), checkdigit.ErrCheck)
			}
		}
	})
}

func TestCodesHaveNoLookAlikesAndDoNotRepeat(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	counts := map[rune]int{}
	const codes = 20_000
	for range codes {
		code, err := domain.SecureCodes.Draw()
		require.NoError(t, err)
		require.False(t, seen[code])
		seen[code] = true
		require.False(t, strings.ContainsAny(code, "01ABEGILOSUZ"), code)
		for _, letter := range code[:8] {
			counts[letter]++
		}
	}
	require.Len(t, counts, 24)
	for letter, n := range counts {
		// A fair share is 6 667; one that strayed by a tenth would be eight standard deviations off.
		require.InDelta(t, codes*8/24, n, codes*8/240, "%c", letter)
	}
}

func TestCodesNeedRandomness(t *testing.T) {
	t.Parallel()
	_, err := domain.CodeSource{Random: bytes.NewReader(nil)}.Draw()
	require.ErrorContains(t, err, "draw a sample code: read random bytes")
}
