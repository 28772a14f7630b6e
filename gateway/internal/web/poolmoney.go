package web

import (
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

const (
	carryOver       = settlementv1.SettlementService_CarryOver_FullMethodName
	bookSales       = settlementv1.PoolSalesService_BookSales_FullMethodName
	proposeProgress = settlementv1.SettlementService_ProposeProgress_FullMethodName
	adoptProgress   = settlementv1.SettlementService_AdoptProgress_FullMethodName
)

// poolMoneyPages are where a pool's money is paid before it is closed, and its honey sold to another.
func (s *site) poolMoneyPages() map[string]page {
	return map[string]page{
		"/pools/{id}/carry":         {needs: carryOver, show: s.newCarryOver, form: true},
		"/pools/{id}/sales":         {needs: bookSales, show: s.bookSales, form: true},
		"/pools/{id}/progress":      {needs: proposeProgress, show: s.newProgress, form: true},
		"/pools/{id}/adopt/{other}": {needs: adoptProgress, show: s.adoptProgress, form: true},
	}
}

// newCarryOver sells unsold honey to another pool that is open.
func (s *site) newCarryOver(v *visit) (view, error) {
	f := v.form()
	name := "pools/" + v.PathValue("id")
	found, err := s.settlement.ListPools(v.ctx, &settlementv1.ListPoolsRequest{PageSize: 200})
	if err != nil {
		return view{}, err
	}
	var others []option
	for _, p := range found.GetPools() {
		if p.GetName() != name && p.GetState() == settlementv1.PoolState_POOL_STATE_OPEN {
			others = append(others, option{Value: p.GetName(), Label: p.GetTitle()})
		}
	}
	return s.plainTask(v, f, "newcarryover", "Carry over unsold honey", map[string]any{"Pool": name, "Others": others}, func() (string, error) {
		_, err := s.settlement.CarryOver(v.ctx, &settlementv1.CarryOverRequest{
			RequestId: f.RequestID, Pool: name, ToPool: f.Value("to_pool"), Amount: s.typedMoney(f.Value("amount")), Description: f.Value("description"),
			Document: f.Value("document"), EntryDate: f.Value("entry_date"),
		})
		return "/" + name, err
	})
}

// newProgress proposes a part-payment on all honey of a pool.
func (s *site) newProgress(v *visit) (view, error) {
	f := v.form()
	name := "pools/" + v.PathValue("id")
	return s.plainTask(v, f, "newprogress", "Propose a progress payment", map[string]any{"Pool": name}, func() (string, error) {
		_, err := s.settlement.ProposeProgress(v.ctx, &settlementv1.ProposeProgressRequest{RequestId: f.RequestID, Pool: name, Rate: s.typedPrice(f.Value("rate"))})
		return "/" + name, err
	})
}

// adoptProgress records the board's resolution to pay it, beside what it comes to.
func (s *site) adoptProgress(v *visit) (view, error) {
	f := v.form()
	pool, err := s.settlement.GetPool(v.ctx, &settlementv1.GetPoolRequest{Name: "pools/" + v.PathValue("id")})
	if err != nil {
		return view{}, err
	}
	for _, g := range pool.GetProgressPayments() {
		if g.GetName() != "progressPayments/"+v.PathValue("other") {
			continue
		}
		return s.plainTask(v, f, "adoptprogress", "Adopt a progress payment", map[string]any{"Pool": pool, "Progress": g}, func() (string, error) {
			_, err := s.settlement.AdoptProgress(v.ctx, &settlementv1.AdoptProgressRequest{RequestId: f.RequestID, Name: g.GetName(), Resolution: f.Value("resolution")})
			return "/" + pool.GetName(), err
		})
	}
	return view{}, errNoPage
}

// mostUnbooked is how many parts of sales a page shows before they are booked.
const mostUnbooked = 1000

// bookSales shows what the warehouse says shipments of a pool's honey brought and cost, and enters it on its account.
func (s *site) bookSales(v *visit) (view, error) {
	f := v.form()
	name := "pools/" + v.PathValue("id")
	found, err := s.poolSales.ListUnbookedSales(v.ctx, &settlementv1.ListUnbookedSalesRequest{PageSize: mostUnbooked})
	if err != nil {
		return view{}, err
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
	return s.plainTask(v, f, "booksales", "Book the sales", map[string]any{"Pool": name, "Parts": mine, "Nobodys": nobodys}, func() (string, error) {
		_, err := s.poolSales.BookSales(v.ctx, &settlementv1.BookSalesRequest{RequestId: f.RequestID, Pool: name})
		return "/" + name, err
	})
}
