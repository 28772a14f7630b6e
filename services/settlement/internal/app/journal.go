package app

import (
	"context"
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"

	"github.com/jackc/pgx/v5"
	"google.golang.org/grpc"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/ledger"
)

// GetTrialBalance sums the journal and compares the members' accounts with what their payouts and payments come to.
func (a *App) GetTrialBalance(ctx context.Context, req *settlementv1.GetTrialBalanceRequest) (*settlementv1.TrialBalance, error) {
	through, err := optionalDate("through_date", req.GetThroughDate())
	if err != nil {
		return nil, err
	}
	out := &settlementv1.TrialBalance{}
	return out, a.DB.InSnapshot(ctx, func(ctx context.Context, tx pgx.Tx) error {
		balances, entries, err := a.Store.Balances(ctx, tx, through)
		if err != nil {
			return err
		}
		owed, err := a.Store.Owed(ctx, tx, through)
		if err != nil {
			return err
		}
		debits, credits, err := ledger.Trial(balances)
		if err != nil {
			return err
		}
		out.Entries, out.Debits, out.Credits = entries, wire.MoneyToProto(debits, a.Terms.Currency), wire.MoneyToProto(credits, a.Terms.Currency)
		for _, b := range balances {
			out.Accounts = append(out.Accounts, &settlementv1.AccountBalance{Account: b.Account, Balance: wire.MoneyToProto(b.Amount, a.Terms.Currency)})
		}
		return ledger.Reconcile(balances, owed)
	})
}

// optionalDate reads a date that may be left out.
func optionalDate(field, text string) (domain.Date, error) {
	if text == "" {
		return "", nil
	}
	d, err := domain.ParseDate(text)
	if err != nil {
		return "", apierr.Field(field, err.Error())
	}
	return d, nil
}

// journalPiece is how many entries go out at a time.
const journalPiece = 2000

// ExportJournal writes the journal as plain-text accounting or as comma-separated values.
func (a *App) ExportJournal(req *settlementv1.ExportJournalRequest, stream grpc.ServerStreamingServer[settlementv1.ExportJournalResponse]) error {
	ctx := stream.Context()
	from, err := optionalDate("from_date", req.GetFromDate())
	if err != nil {
		return err
	}
	through, err := optionalDate("through_date", req.GetThroughDate())
	if err != nil {
		return err
	}
	head := true
	// Number 0 is before the first entry of the date.
	for number := int64(0); ; {
		entries, err := a.Store.Journal(ctx, a.DB.Pool(), from, number, through, journalPiece)
		if err != nil || len(entries) == 0 {
			return err
		}
		var text strings.Builder
		if err := a.writeJournal(&text, req.GetFormat(), entries, head); err != nil {
			return err
		}
		head = false
		if err := stream.Send(&settlementv1.ExportJournalResponse{Text: text.String()}); err != nil {
			return err
		}
		last := entries[len(entries)-1]
		from, number = last.Date, last.Number
	}
}

func (a *App) writeJournal(text *strings.Builder, format settlementv1.JournalFormat, entries []*ledger.Entry, head bool) error {
	if format != settlementv1.JournalFormat_JOURNAL_FORMAT_CSV {
		for _, e := range entries {
			text.WriteString(e.Text(a.Terms.Currency))
		}
		return nil
	}
	w := csv.NewWriter(text)
	var rows [][]string
	if head {
		rows = [][]string{{"date", "entry", "source", "description", "account", "debit", "credit", "currency"}}
	}
	for _, e := range entries {
		for _, p := range e.Postings {
			debit, credit := p.Amount.String(), ""
			if p.Amount < 0 {
				debit, credit = "", (-p.Amount).String()
			}
			rows = append(rows, []string{string(e.Date), strconv.FormatInt(e.Number, 10), e.Source, harmless(e.Description), p.Account, debit, credit, a.Terms.Currency})
		}
	}
	if err := w.WriteAll(rows); err != nil {
		return fmt.Errorf("write the journal: %w", err)
	}
	return nil
}
