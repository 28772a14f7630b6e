package season

import (
	"context"
	"fmt"
	"io"
	"net/url"
	"strings"
	"text/tabwriter"
	"time"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/quantity"
)

// Report is what the season paid, read back through the API.
type Report struct {
	Totals []*settlementv1.MemberTotal
	Grand  *settlementv1.MemberTotal
	// Lines is the sum of every line of every payout, added up here and not by the suite.
	Lines quantity.Money
	// Sum is the sum of the members' totals, added up here.
	Sum quantity.Money
	// Waiting counts delivered barrels without a price.
	Waiting int
}

// Difference between what members, payout lines and the suite's own grand total come to; zero or something is wrong.
func (r *Report) Difference() (quantity.Money, error) {
	grand, err := quantity.ParseMoney(r.Grand.GetNetAmount().GetAmount())
	if err != nil {
		return 0, err
	}
	if r.Lines != r.Sum {
		return r.Lines - r.Sum, nil
	}
	return r.Sum - grand, nil
}

// Settled waits until every barrel of the season is priced, and reads the totals. What somebody delivered by hand beside it counts
// for none of them and may wait for its own grade: the next start must not wait for that.
func (c *Crew) Settled(ctx context.Context, patience time.Duration) (*Report, error) {
	deadline := time.Now().Add(patience)
	for {
		r, waiting, err := c.report(ctx)
		if err != nil {
			return nil, err
		}
		// Only when enough are priced at all is it worth looking whose.
		priced := min(int(r.Grand.GetPricedBarrels()), c.total)
		if priced == c.total {
			if priced, err = c.pricedOwn(ctx, r, waiting); err != nil || priced == c.total {
				return r, err
			}
		}
		if time.Now().After(deadline) {
			return r, fmt.Errorf("after %s only %d of %d barrels are priced", patience, priced, c.total)
		}
		select {
		case <-ctx.Done():
			return nil, ctx.Err()
		case <-time.After(200 * time.Millisecond):
		}
	}
}

// pricedOwn counts the barrels of the season that have a payout and do not wait for a new one.
func (c *Crew) pricedOwn(ctx context.Context, r *Report, waiting map[string]bool) (int, error) {
	own := map[string]bool{}
	for _, d := range c.Season.Deliveries {
		for i := range d.Barrels {
			if name := c.barrel(d, i); !waiting[name] {
				own[name] = true
			}
		}
	}
	priced := map[string]bool{}
	for _, total := range r.Totals {
		if err := c.payouts(ctx, total.GetMember(), func(p *settlementv1.Payout) error {
			if own[p.GetBarrel()] {
				priced[p.GetBarrel()] = true
			}
			return nil
		}); err != nil {
			return 0, err
		}
	}
	return len(priced), nil
}

// report reads the totals, and which barrels wait for a price.
func (c *Crew) report(ctx context.Context) (*Report, map[string]bool, error) {
	office, r := c.sessions["office"], &Report{}
	waiting := map[string]bool{}
	for token, more := "", true; more; more = token != "" {
		var page settlementv1.ListUnpricedResponse
		if err := office.Get(ctx, "/v1/unpriced?page_size=1000&page_token="+url.QueryEscape(token), &page); err != nil {
			return nil, nil, err
		}
		for _, u := range page.GetUnpriced() {
			waiting[u.GetBarrel()] = true
		}
		token = page.GetNextPageToken()
	}
	r.Waiting = len(waiting)
	for token := ""; ; {
		var page settlementv1.ListMemberTotalsResponse
		if err := office.Get(ctx, "/v1/memberTotals?page_size=1000&page_token="+url.QueryEscape(token), &page); err != nil {
			return nil, nil, err
		}
		r.Totals, r.Grand = append(r.Totals, page.GetMemberTotals()...), page.GetGrandTotal()
		if token = page.GetNextPageToken(); token == "" {
			return r, waiting, nil
		}
	}
}

// AddUp sums the members' totals and every line of every payout on our own.
func (c *Crew) AddUp(ctx context.Context, r *Report) error {
	r.Lines, r.Sum = 0, 0
	for _, total := range r.Totals {
		amount, err := quantity.ParseMoney(total.GetNetAmount().GetAmount())
		if err != nil {
			return err
		}
		r.Sum += amount
		lines, err := c.addLines(ctx, total.GetMember())
		if err != nil {
			return err
		}
		r.Lines += lines
	}
	return nil
}

func (c *Crew) addLines(ctx context.Context, member string) (quantity.Money, error) {
	var sum quantity.Money
	err := c.payouts(ctx, member, func(payout *settlementv1.Payout) error {
		for _, line := range payout.GetLines() {
			amount, err := quantity.ParseMoney(line.GetAmount().GetAmount())
			if err != nil {
				return err
			}
			sum += amount
		}
		return nil
	})
	return sum, err
}

// payouts reads every payout of a member.
func (c *Crew) payouts(ctx context.Context, member string, each func(*settlementv1.Payout) error) error {
	for token := ""; ; {
		var page settlementv1.ListPayoutsResponse
		path := "/v1/" + member + "/payouts?page_size=1000&page_token=" + url.QueryEscape(token)
		if err := c.sessions["office"].Get(ctx, path, &page); err != nil {
			return err
		}
		for _, payout := range page.GetPayouts() {
			if err := each(payout); err != nil {
				return err
			}
		}
		if token = page.GetNextPageToken(); token == "" {
			return nil
		}
	}
}

// Print writes the table of what each member is paid. It ends with the difference computed from the figures above it.
func (r *Report) Print(w io.Writer) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	row := func(cells ...string) { _, _ = fmt.Fprintln(t, strings.Join(cells, "\t")+"\t") } // tabwriter reports errors at Flush
	row("member", "name", "barrels", "net lb", "payable lb", "honey $", "deductions $", "paid $")
	for _, m := range append(r.Totals, r.Grand) {
		name, number := m.GetDisplayName(), strings.TrimPrefix(m.GetMember(), "members/")
		if m == r.Grand {
			name, number = "", "all"
		}
		row(number, name, fmt.Sprint(m.GetBarrels()), m.GetNet().GetValue(), m.GetPayable().GetValue(),
			m.GetGrossAmount().GetAmount(), m.GetDeductions().GetAmount(), m.GetNetAmount().GetAmount())
	}
	if err := t.Flush(); err != nil {
		return err
	}
	difference, err := r.Difference()
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(w, "members %s, payout lines %s, grand total %s: difference %s\n",
		r.Sum, r.Lines, r.Grand.GetNetAmount().GetAmount(), difference)
	return err
}
