package paper

import (
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/types/known/timestamppb"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

func TestPalletLabel_ScansAsShippingContainerCode(t *testing.T) {
	t.Parallel()
	m := &inventoryv1.Pallet{
		Name: "pallets/1", Number: 12, Sscc: "906141410000000128", BuildTime: timestamppb.New(testTicket(1).GetBarrels()[0].GetWeighTime().AsTime()),
		Lines: []*inventoryv1.PalletLine{{LotCode: "FC26258T101M", Jars: 480}, {LotCode: "FC26259T1025", Jars: 20}},
	}
	pdf, err := testPress(t, prefix).palletLabel(m)
	require.NoError(t, err)
	count, paper := pagesOf(t, pdf)
	require.Equal(t, 1, count)
	require.Equal(t, "288 x 432 pts", paper, "4 by 6 inches")
	require.Equal(t, [][]symbol{{{Type: "CODE-128", Modifiers: "GS1", Data: "00906141410000000128"}}}, scan(t, pdf))
	text := wordsOf(t, pdf)
	for _, wanted := range []string{"(00) 906141410000000128", "Lot FC26258T101M: 480 jars", "Lot FC26259T1025: 20 jars"} {
		require.Contains(t, text, wanted)
	}
	for range 10 {
		m.Lines = append(m.Lines, m.GetLines()[0])
	}
	m.Sscc = ""
	pdf, err = testPress(t, "").palletLabel(m)
	require.NoError(t, err)
	require.Equal(t, [][]symbol{{{Type: "CODE-128", Data: "FC-PALLET-12"}}}, scan(t, pdf))
	text = wordsOf(t, pdf)
	require.Contains(t, text, "our own number")
	require.Contains(t, text, "and 6 more lots")
}
