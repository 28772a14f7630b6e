package app

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"

	"github.com/jackc/pgx/v5"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/document"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/payment"
	"barrelhead.example/services/settlement/internal/domain/tax"
)

// TaxStore sums calendar years.
type TaxStore interface {
	TaxFacts(ctx context.Context, q pg.Querier, member string, from, through domain.Date) ([]tax.Fact, error)
	TaxPayees(ctx context.Context, q pg.Querier, member string, from, through domain.Date) ([]tax.Payee, error)
	MemberNames(ctx context.Context, q pg.Querier, members []string) (map[string]string, error)
}

// taxRecords are those of a calendar year, of one member or of all for "".
func (a *App) taxRecords(ctx context.Context, member string, year int32) (records []*tax.Record, names map[string]string, err error) {
	from, through := domain.Date(fmt.Sprintf("%d-01-01", year)), domain.Date(fmt.Sprintf("%d-12-31", year))
	err = a.DB.InSnapshot(ctx, func(ctx context.Context, tx pgx.Tx) error {
		facts, err := a.Store.TaxFacts(ctx, tx, member, from, through)
		if err != nil {
			return err
		}
		payees, err := a.Store.TaxPayees(ctx, tx, member, from, through)
		if err != nil {
			return err
		}
		if records, err = tax.Gather(int(year), facts, payees, a.Tax, a.Terms); err != nil {
			return err
		}
		members := []string{member}
		for _, r := range records {
			members = append(members, r.Member)
		}
		names, err = a.Store.MemberNames(ctx, tx, members)
		return err
	})
	return records, names, err
}

// GetTaxRecord reads a member's calendar year.
func (a *App) GetTaxRecord(ctx context.Context, req *settlementv1.GetTaxRecordRequest) (*settlementv1.TaxRecord, error) {
	if err := a.member(ctx, req.GetMember()); err != nil {
		return nil, err
	}
	records, names, err := a.taxRecords(ctx, req.GetMember(), req.GetYear())
	if err != nil {
		return nil, err
	}
	if len(records) == 0 {
		records = []*tax.Record{{Member: req.GetMember(), Year: int(req.GetYear()), Reason: "nothing in the year"}}
	}
	return a.taxToProto(records[0], names), nil
}

// ListTaxRecords lists every member with an amount in a year.
func (a *App) ListTaxRecords(ctx context.Context, req *settlementv1.ListTaxRecordsRequest) (*settlementv1.ListTaxRecordsResponse, error) {
	records, names, err := a.taxRecords(ctx, "", req.GetYear())
	if err != nil {
		return nil, err
	}
	out := &settlementv1.ListTaxRecordsResponse{Caution: tax.Caution}
	sums := &tax.Record{}
	for _, r := range records {
		out.TaxRecords = append(out.TaxRecords, a.taxToProto(r, names))
		for i := range r.Box {
			sums.Box[i] += r.Box[i]
		}
	}
	out.Totals = a.boxesToProto(sums)
	for _, b := range out.GetTotals() {
		b.Explanation = "sum over all members"
	}
	due, err := tax.On(tax.StatementDue, domain.Date(fmt.Sprintf("%d-12-31", req.GetYear())))
	if err != nil {
		return nil, err
	}
	out.StatementDueDate = fmt.Sprintf("%d-%s", req.GetYear()+1, due.Value)
	figures, err := tax.Figures()
	for _, f := range figures {
		out.Sources = append(out.Sources, f.String())
	}
	return out, err
}

func (a *App) boxesToProto(r *tax.Record) []*settlementv1.TaxBox {
	boxes := make([]*settlementv1.TaxBox, 0, tax.Boxes)
	for box := 1; box <= tax.Boxes; box++ {
		boxes = append(boxes, &settlementv1.TaxBox{
			Box: int32(box), Title: tax.Titles[box], Amount: wire.MoneyToProto(r.Box[box], a.Terms.Currency), Explanation: r.Explain(box),
		})
	}
	return boxes
}

func (a *App) taxToProto(r *tax.Record, names map[string]string) *settlementv1.TaxRecord {
	out := &settlementv1.TaxRecord{
		Member: r.Member, DisplayName: names[r.Member], Year: int32(r.Year), Boxes: a.boxesToProto(r), PoolPayments: wire.MoneyToProto(r.Pool, a.Terms.Currency), //nolint:gosec // a year
		PoolPaymentsInBox_3: a.Tax.PoolPayments, MustFile: r.MustFile, Reason: r.Reason, Findings: r.Findings, Caution: tax.Caution,
	}
	for _, p := range r.Payees {
		out.Payees = append(out.Payees, &settlementv1.TaxPayee{
			Payee: p.Name, Right: payment.EncumbranceKind(p.Kind).Words(), Paid: wire.MoneyToProto(p.Amount, a.Terms.Currency),
		})
	}
	return out
}

// ExportTaxRecords writes the list of a year as CSV.
func (a *App) ExportTaxRecords(ctx context.Context, req *settlementv1.ExportTaxRecordsRequest) (*settlementv1.TaxFile, error) {
	records, names, err := a.taxRecords(ctx, "", req.GetYear())
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	head := []string{"member", "name", "year"}
	for box := 1; box <= tax.Boxes; box++ {
		head = append(head, "box_"+strconv.Itoa(box))
	}
	rows := [][]string{append(head, "pool_payments", "pool_payments_in_box_3", "must_file", "reason", "findings", "caution")}
	for _, r := range records {
		row := []string{strings.TrimPrefix(r.Member, "members/"), harmless(names[r.Member]), strconv.Itoa(r.Year)}
		for box := 1; box <= tax.Boxes; box++ {
			row = append(row, r.Box[box].String())
		}
		rows = append(rows, append(row, r.Pool.String(), strconv.FormatBool(a.Tax.PoolPayments), strconv.FormatBool(r.MustFile), r.Reason, strings.Join(r.Findings, "; "), tax.Caution))
	}
	if err := w.WriteAll(rows); err != nil {
		return nil, fmt.Errorf("write the tax records: %w", err)
	}
	return taxFile(out.Bytes(), "text/csv; charset=utf-8", fmt.Sprintf("tax-%d.csv", req.GetYear())), nil
}

// harmless keeps a spreadsheet from taking a name for a formula.
func harmless(name string) string {
	if strings.ContainsAny(name[:min(1, len(name))], "=+-@\t\r") {
		return "'" + name
	}
	return name
}

func taxFile(content []byte, kind, name string) *settlementv1.TaxFile {
	return &settlementv1.TaxFile{Content: content, ContentType: kind, FileName: name, Sha256: payment.Fingerprint(content)}
}

// RenderTaxRecord writes a member's calendar year as a PDF.
func (a *App) RenderTaxRecord(ctx context.Context, req *settlementv1.RenderTaxRecordRequest) (*settlementv1.TaxFile, error) {
	r, err := a.GetTaxRecord(ctx, &settlementv1.GetTaxRecordRequest{Member: req.GetMember(), Year: req.GetYear()})
	if err != nil {
		return nil, err
	}
	content, err := document.TaxRecord(r, a.House, a.Clock.Now())
	if err != nil {
		return nil, err
	}
	return taxFile(content, "application/pdf", fmt.Sprintf("tax-%s-%d.pdf", strings.TrimPrefix(r.GetMember(), "members/"), r.GetYear())), nil
}

// GetAssessment calculates the national assessment of a month.
func (a *App) GetAssessment(ctx context.Context, req *settlementv1.GetAssessmentRequest) (*settlementv1.Assessment, error) {
	first, last, err := a.month(req.GetMonth())
	if err != nil {
		return nil, err
	}
	if a.Terms.Unit != quantity.LB || a.Terms.Currency != "USD" {
		return nil, &domain.StateError{Resource: "assessment", State: "OTHER_COUNTRY", Message: "the assessment is of the United States, in pounds and dollars; this cooperative weighs or pays otherwise"}
	}
	handled, passed, err := a.Store.Handled(ctx, a.DB.Pool(), first, last)
	if err != nil {
		return nil, err
	}
	inYear, _, err := a.Store.Handled(ctx, a.DB.Pool(), first[:4]+"-01-01", last)
	if err != nil {
		return nil, err
	}
	found, err := tax.Assess(req.GetMonth(), handled, inYear)
	if err != nil {
		return nil, err
	}
	headline := "The cooperative bears the assessment as first handler; nothing is deducted from members."
	if passed > 0 {
		headline = fmt.Sprintf("%s of the month was passed on to members by their agreement; the rest is the cooperative's.", a.Terms.Money(passed))
	}
	return &settlementv1.Assessment{
		Month: req.GetMonth(), Handled: wire.MassToProto(handled, a.Terms.Unit), HandledInYear: wire.MassToProto(inYear, a.Terms.Unit),
		Rate: wire.PriceToProto(found.Rate, a.Terms.Currency, a.Terms.Unit), RateSource: found.RateSource, Amount: wire.MoneyToProto(found.Amount, a.Terms.Currency),
		DueDate: string(found.Due), ExemptionBelow: wire.MassToProto(found.ExemptBelow, a.Terms.Unit), MayBeExempt: found.MayBeExempt,
		PassedOn: wire.MoneyToProto(passed, a.Terms.Currency), Headline: headline,
	}, nil
}
