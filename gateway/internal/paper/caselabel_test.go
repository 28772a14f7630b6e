package paper

import (
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/types/known/timestamppb"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

func TestCaseLabel_ScansAsTheLotCode(t *testing.T) {
	t.Parallel()
	lot := &inventoryv1.PackLot{
		Code: "FC26258T101M", Label: "labels/CLOVER-1LB-3", Line: "L1", BestByDate: "2028-09-15",
		StartTime: timestamppb.New(testTicket(1).GetBarrels()[0].GetWeighTime().AsTime()),
	}
	pdf, err := testPress(t, prefix).caseLabel(lot)
	require.NoError(t, err)
	count, paper := pagesOf(t, pdf)
	require.Equal(t, 1, count)
	require.Equal(t, "288 x 216 pts", paper, "4 by 3 inches")
	require.Equal(t, [][]symbol{{{Type: "CODE-128", Data: "FC26258T101M"}}}, scan(t, pdf))
	text := wordsOf(t, pdf)
	for _, wanted := range []string{"CLOVER-1LB-3", "Best by", "15 Sep 2028", "FC26258T101M", "not for infants under 12 months"} {
		require.Contains(t, text, wanted)
	}
	lot.BestByDate = ""
	pdf, err = testPress(t, prefix).caseLabel(lot)
	require.NoError(t, err)
	require.Contains(t, wordsOf(t, pdf), "as printed on the jars")
}
