package web

import (
	"net/url"
	"strconv"
	"strings"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

const (
	listSide   = inventoryv1.WarehouseRecordsService_ListSideEntries_FullMethodName
	recordSide = inventoryv1.WarehouseRecordsService_RecordSideEntry_FullMethodName
)

var (
	sideGoods = newOptions("COMB_SECTION", "comb sections", "CUT_COMB", "cut comb", "CHUNK_HONEY", "chunk honey", "BEESWAX", "beeswax", "CAPPINGS", "cappings")
	sideMoves = newOptions("RECEIVED", "came from a member", "MADE", "was made here", "SOLD", "was sold", "USED", "was used here", "LOST", "was lost")
)

func (s *site) sideGoods(v *visit) (view, error) {
	stocks, err := s.records.SummarizeSideGoods(v.ctx, &inventoryv1.SummarizeSideGoodsRequest{})
	if err != nil {
		return view{}, err
	}
	found, err := s.records.ListSideEntries(v.ctx, &inventoryv1.ListSideEntriesRequest{PageSize: 30, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
	}
	return view{page: "sidegoods", title: "Comb and wax", data: map[string]any{
		"Stocks": stocks.GetStocks(), "Entries": found.GetEntries(), "Noted": v.URL.Query().Get("noted"), "Next": nextPage(v, found.GetNextPageToken()), "MayRecord": v.mayCall(recordSide),
	}}, nil
}

// newSideGood takes pieces or a weight, whichever the good has.
func (s *site) newSideGood(v *visit) (view, error) {
	f := v.form()
	f.set("crop_year", strconv.Itoa(s.Clock.Now().In(s.zone).Year()))
	return s.plainTask(v, f, "newsidegood", "Comb and wax", map[string]any{"Goods": sideGoods, "Moves": sideMoves}, func() (string, error) {
		request := &inventoryv1.RecordSideEntryRequest{
			RequestId: f.RequestID, Good: inventoryv1.SideGood(inventoryv1.SideGood_value["SIDE_GOOD_"+f.Value("good")]),
			Move: inventoryv1.SideMove(inventoryv1.SideMove_value["SIDE_MOVE_"+f.Value("move")]), Pieces: count(f.Value("pieces")), Mass: s.massOr(f.Value("mass")),
			CropYear: few(f.Value("crop_year")), Customer: f.Value("customer"), Note: f.Value("note"),
		}
		if member := upper(f.Value("member")); member != "" {
			request.Member = "members/" + strings.TrimPrefix(member, "MEMBERS/")
		}
		_, err := s.records.RecordSideEntry(v.ctx, request)
		return "/side-goods?" + url.Values{"noted": {"yes"}}.Encode(), err
	})
}
