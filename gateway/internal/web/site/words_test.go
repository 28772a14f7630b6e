package site

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestWords_OfThings(t *testing.T) {
	t.Parallel()
	require.Equal(t, "Waiting for its certificate.", Sentence("waiting for its certificate"))
	require.Equal(t, "Is it?", Sentence("is it?"))
	require.Empty(t, Sentence(" "))
	require.Equal(t, "pack lot FC26257L1A", Thing("packLots/FC26257L1A"))
	require.Equal(t, "barrel 5d7e3a10", Thing("stock/5d7e3a10-0000-4000-8000-000000000012"))
	require.Equal(t, "loss UNEXPLAINED REST", Thing("losses/UNEXPLAINED_REST"))
	require.Equal(t, []string{"K7Q", "2M9", "XPR"}, chunks("K7Q2M9XPR"))
	require.Equal(t, []string{"K7"}, chunks("K7"))
	require.Equal(t, "A", GradeWord("A"))
	require.Equal(t, "substandard", GradeWord("SUBSTANDARD"))
	require.Equal(t, "1,200", inThousands(int32(1200)))
}

func TestMemberName_ReadsWhatPeopleType(t *testing.T) {
	t.Parallel()
	for typed, name := range map[string]string{
		"M-0012": "members/M-0012", " m-0012 ": "members/M-0012", "12": "members/M-0012", "123456": "members/M-123456",
		"M-0012 Juniper Ridge Bees": "members/M-0012", "": "", "juniper": "members/JUNIPER",
	} {
		require.Equal(t, name, MemberName(typed), typed)
	}
}
