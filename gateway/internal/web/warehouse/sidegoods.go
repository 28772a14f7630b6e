package warehouse

import (
	"net/url"
	"strconv"
	"strings"

	"barrelhead.example/gateway/internal/web/site"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

const (
	listSide   = inventoryv1.WarehouseRecordsService_ListSideEntries_FullMethodName
	recordSide = inventoryv1.WarehouseRecordsService_RecordSideEntry_FullMethodName
)

var (
	sideGoods = site.NewOptions("COMB_SECTION", "comb sections", "CUT_COMB", "cut comb", "CHUNK_HONEY", "chunk honey", "BEESWAX", "beeswax", "CAPPINGS", "cappings")
	sideMoves = site.NewOptions("RECEIVED", "came from a member", "MADE", "was made here", "SOLD", "was sold", "USED", "was used here", "LOST", "was lost")
)

func (s room) sideGoods(v *site.Visit) (site.View, error) {
	stocks, err := s.Records.SummarizeSideGoods(v.Ctx, &inventoryv1.SummarizeSideGoodsRequest{})
	if err != nil {
		return site.View{}, err
	}
	found, err := s.Records.ListSideEntries(v.Ctx, &inventoryv1.ListSideEntriesRequest{PageSize: 30, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "sidegoods", Title: "Comb and wax", Data: map[string]any{
		"Stocks": stocks.GetStocks(), "Entries": found.GetEntries(), "Noted": v.URL.Query().Get("noted"), "Next": site.NextPage(v, found.GetNextPageToken()), "MayRecord": v.MayCall(recordSide),
	}}, nil
}

// newSideGood takes pieces or a weight, whichever the good has.
func (s room) newSideGood(v *site.Visit) (site.View, error) {
	f := v.Form()
	f.Set("crop_year", strconv.Itoa(s.Clock.Now().In(s.Zone).Year()))
	return s.PlainTask(v, f, "newsidegood", "Comb and wax", map[string]any{"Goods": sideGoods, "Moves": sideMoves}, func() (string, error) {
		request := &inventoryv1.RecordSideEntryRequest{
			RequestId: f.RequestID, Good: inventoryv1.SideGood(inventoryv1.SideGood_value["SIDE_GOOD_"+f.Value("good")]),
			Move: inventoryv1.SideMove(inventoryv1.SideMove_value["SIDE_MOVE_"+f.Value("move")]), Pieces: site.Count(f.Value("pieces")), Mass: s.MassOr(f.Value("mass")),
			CropYear: site.Few(f.Value("crop_year")), Customer: f.Value("customer"), Note: f.Value("note"),
		}
		if member := site.Upper(f.Value("member")); member != "" {
			request.Member = "members/" + strings.TrimPrefix(member, "MEMBERS/")
		}
		_, err := s.Records.RecordSideEntry(v.Ctx, request)
		return "/side-goods?" + url.Values{"noted": {"yes"}}.Encode(), err
	})
}
