package office

import (
	"slices"
	"strconv"
	"strings"

	"barrelhead.example/gateway/internal/web/site"
	"barrelhead.example/gateway/internal/wording"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

// accountData is what one member was credited and what waits.
type accountData struct {
	Own      bool
	Total    *settlementv1.MemberTotal
	Payouts  []*settlementv1.Payout
	Next     string
	Unpriced []*settlementv1.Unpriced
	More     bool
	Page     string
	// Owed is what the member is owed over all crop years, or owes, and Paid what went out so far; nil before the first payout.
	Owed, Paid *typev1.Money
	// Payments of the newest crop year; the bank makes each on its day, which may be yet to come.
	Payments []*settlementv1.StatementPayment
	// Beside are charges, loans, refunds and capital given back, all crop years; nil where there is nothing.
	Beside *typev1.Money
	// Words are when money comes or why it waits, Planned what comes next and Day when.
	Words, Day string
	Planned    *typev1.Money
	// Years are the crop years of the payouts shown, newest first; each has a statement.
	Years []int32
}

func (s room) ownAccount(v *site.Visit) (site.View, error) {
	return s.accountOf(v, v.Who.Member, true)
}

func (s room) account(v *site.Visit) (site.View, error) {
	name := "members/" + v.PathValue("number")
	return s.accountOf(v, name, name == v.Who.Member)
}

func (s room) accountOf(v *site.Visit, member string, own bool) (site.View, error) {
	total, err := s.Settlement.GetMemberTotal(v.Ctx, &settlementv1.GetMemberTotalRequest{Member: member})
	if err != nil {
		return site.View{}, err
	}
	token := v.URL.Query().Get("page")
	payouts, err := s.Settlement.ListPayouts(v.Ctx, &settlementv1.ListPayoutsRequest{Member: member, PageSize: 30, PageToken: token})
	if err != nil {
		return site.View{}, err
	}
	unpriced, err := s.Settlement.ListUnpriced(v.Ctx, &settlementv1.ListUnpricedRequest{Member: member, PageSize: 100})
	if err != nil {
		return site.View{}, err
	}
	years := cropYears(payouts.GetPayouts())
	d := accountData{
		Own: own, Total: total, Payouts: payouts.GetPayouts(), Next: payouts.GetNextPageToken(), Page: token,
		Unpriced: unpriced.GetUnpriced(), More: unpriced.GetNextPageToken() != "", Years: years,
	}
	if len(years) > 0 && v.MayCall(getStatement) {
		newest, err := s.Settlement.GetStatement(v.Ctx, &settlementv1.GetStatementRequest{Member: member, CropYear: years[0]})
		if err != nil {
			return site.View{}, err
		}
		d.Owed, d.Paid, d.Payments = newest.GetBalance(), newest.GetPaid(), newest.GetPayments()
		d.Words, d.Planned, d.Day = newest.GetPaymentWords(), newest.GetNextPayment(), newest.GetNextPaymentDate()
		d.Beside = besideHoney(total, newest)
	}
	title := "Account of " + total.GetDisplayName()
	if own {
		title = "Your account"
	}
	return site.View{Page: "account", Title: title, Data: d}, nil
}

// besideHoney is what makes the balance of what was credited and paid: all that stands on the account beside the barrels.
func besideHoney(total *settlementv1.MemberTotal, s *settlementv1.Statement) *typev1.Money {
	left := compareMoney(total.GetNetAmount(), s.GetBalance())
	if paid := s.GetPaid(); paid != nil {
		left = compareMoney(&typev1.Money{Amount: negated(paid.GetAmount()), CurrencyCode: paid.GetCurrencyCode()}, left)
	}
	if left.GetAmount() == "0.00" {
		return nil
	}
	return left
}

func negated(amount string) string {
	if positive, negative := strings.CutPrefix(amount, "-"); negative {
		return positive
	}
	return "-" + amount
}

func cropYears(payouts []*settlementv1.Payout) []int32 {
	var years []int32
	for _, p := range payouts {
		if !slices.Contains(years, p.GetCropYear()) {
			years = append(years, p.GetCropYear())
		}
	}
	slices.Sort(years)
	slices.Reverse(years)
	return years
}

func (s room) readPayout(v *site.Visit) (*settlementv1.Payout, error) {
	return s.Settlement.GetPayout(v.Ctx, &settlementv1.GetPayoutRequest{Name: "payouts/" + v.PathValue("id")})
}

type payoutData struct {
	Payout *settlementv1.Payout
	Own    bool
	Back   string
	MayAsk bool
}

func (s room) payout(v *site.Visit) (site.View, error) {
	p, err := s.readPayout(v)
	if err != nil {
		return site.View{}, err
	}
	own, back := v.BackTo(p.GetMember())
	return site.View{Page: "payout", Title: "Barrel " + p.GetDrumTag(), Data: payoutData{Payout: p, Own: own, Back: back, MayAsk: v.MayCall(openDispute)}}, nil
}

type whyData struct {
	Payout         *settlementv1.Payout
	Line           *settlementv1.PayoutLine
	MayCertificate bool
	MayAsk         bool
	// Row is where the price stands in its schedule; empty for what has no row of its own.
	Row string
}

// why opens one amount: rule, calculation, readings, certificate.
func (s room) why(v *site.Visit) (site.View, error) {
	p, err := s.readPayout(v)
	if err != nil {
		return site.View{}, err
	}
	for _, line := range p.GetLines() {
		if strconv.Itoa(int(line.GetLine())) == v.PathValue("line") {
			return site.View{Page: "why", Title: "Why " + wording.Screen.Money(line.GetAmount()), Data: whyData{
				Payout: p, Line: line, Row: priceAnchor(line.GetExplanation().GetInputs()["price_row"]), MayCertificate: v.MayCall(getCertificate), MayAsk: v.MayCall(openDispute),
			}}, nil
		}
	}
	return site.View{}, site.ErrNoPage
}

// steps parts a calculation into its lines.
func steps(calculation string) []string { return strings.SplitAfter(calculation, "; ") }
