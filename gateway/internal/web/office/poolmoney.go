package office

import (
	"barrelhead.example/gateway/internal/web/site"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

const (
	carryOver       = settlementv1.SettlementService_CarryOver_FullMethodName
	bookSales       = settlementv1.PoolSalesService_BookSales_FullMethodName
	proposeProgress = settlementv1.SettlementService_ProposeProgress_FullMethodName
	adoptProgress   = settlementv1.SettlementService_AdoptProgress_FullMethodName
)

// poolMoneyPages are where a pool's money is paid before it is closed, and its honey sold to another.
func (s room) poolMoneyPages() map[string]site.Page {
	return map[string]site.Page{
		"/pools/{id}/carry":         {Needs: carryOver, Show: s.newCarryOver, Form: true},
		"/pools/{id}/sales":         {Needs: bookSales, Show: s.bookSales, Form: true},
		"/pools/{id}/progress":      {Needs: proposeProgress, Show: s.newProgress, Form: true},
		"/pools/{id}/adopt/{other}": {Needs: adoptProgress, Show: s.adoptProgress, Form: true},
	}
}

// newCarryOver sells unsold honey to another pool that is open.
func (s room) newCarryOver(v *site.Visit) (site.View, error) {
	f := v.Form()
	name := "pools/" + v.PathValue("id")
	found, err := s.Settlement.ListPools(v.Ctx, &settlementv1.ListPoolsRequest{PageSize: 200})
	if err != nil {
		return site.View{}, err
	}
	var others []site.Option
	for _, p := range found.GetPools() {
		if p.GetName() != name && p.GetState() == settlementv1.PoolState_POOL_STATE_OPEN {
			others = append(others, site.Option{Value: p.GetName(), Label: p.GetTitle()})
		}
	}
	return s.PlainTask(v, f, "newcarryover", "Carry over unsold honey", map[string]any{"Pool": name, "Others": others}, func() (string, error) {
		_, err := s.Settlement.CarryOver(v.Ctx, &settlementv1.CarryOverRequest{
			RequestId: f.RequestID, Pool: name, ToPool: f.Value("to_pool"), Amount: s.TypedMoney(f.Value("amount")), Description: f.Value("description"),
			Document: f.Value("document"), EntryDate: f.Value("entry_date"),
		})
		return "/" + name, err
	})
}

// newProgress proposes a part-payment on all honey of a pool.
func (s room) newProgress(v *site.Visit) (site.View, error) {
	f := v.Form()
	name := "pools/" + v.PathValue("id")
	return s.PlainTask(v, f, "newprogress", "Propose a progress payment", map[string]any{"Pool": name}, func() (string, error) {
		_, err := s.Settlement.ProposeProgress(v.Ctx, &settlementv1.ProposeProgressRequest{RequestId: f.RequestID, Pool: name, Rate: s.TypedPrice(f.Value("rate"))})
		return "/" + name, err
	})
}

// adoptProgress records the board's resolution to pay it, beside what it comes to.
func (s room) adoptProgress(v *site.Visit) (site.View, error) {
	f := v.Form()
	pool, err := s.Settlement.GetPool(v.Ctx, &settlementv1.GetPoolRequest{Name: "pools/" + v.PathValue("id")})
	if err != nil {
		return site.View{}, err
	}
	for _, g := range pool.GetProgressPayments() {
		if g.GetName() != "progressPayments/"+v.PathValue("other") {
			continue
		}
		return s.PlainTask(v, f, "adoptprogress", "Adopt a progress payment", map[string]any{"Pool": pool, "Progress": g}, func() (string, error) {
			_, err := s.Settlement.AdoptProgress(v.Ctx, &settlementv1.AdoptProgressRequest{RequestId: f.RequestID, Name: g.GetName(), Resolution: f.Value("resolution")})
			return "/" + pool.GetName(), err
		})
	}
	return site.View{}, site.ErrNoPage
}

// mostUnbooked is how many parts of sales a page shows before they are booked.
const mostUnbooked = 1000

// bookSales shows what the warehouse says shipments of a pool's honey brought and cost, and enters it on its account.
func (s room) bookSales(v *site.Visit) (site.View, error) {
	f := v.Form()
	name := "pools/" + v.PathValue("id")
	found, err := s.PoolSales.ListUnbookedSales(v.Ctx, &settlementv1.ListUnbookedSalesRequest{PageSize: mostUnbooked})
	if err != nil {
		return site.View{}, err
	}
	var mine, nobodys []*settlementv1.UnbookedSale
	for _, part := range found.GetParts() {
		switch part.GetPool() {
		case name:
			mine = append(mine, part)
		case "":
			nobodys = append(nobodys, part)
		}
	}
	return s.PlainTask(v, f, "booksales", "Book the sales", map[string]any{"Pool": name, "Parts": mine, "Nobodys": nobodys}, func() (string, error) {
		_, err := s.PoolSales.BookSales(v.Ctx, &settlementv1.BookSalesRequest{RequestId: f.RequestID, Pool: name})
		return "/" + name, err
	})
}
