// Command painread reads a customer credit transfer (ISO 20022 pain.001) from standard input with a library of other people, and
// prints what that library found as JSON. A test compares it with what was to be paid. The library stays in this module: what it
// asks for itself is many times what the suite needs.
package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"

	"github.com/moov-io/iso20022/pkg/document"
	"github.com/moov-io/iso20022/pkg/pain_v10"
)

// Found is what a bank would act on. Amounts have two places: the library reads them as floating point.
type Found struct {
	Message string  `json:"message"`
	Count   string  `json:"count"`
	Sum     string  `json:"sum"`
	Blocks  []Block `json:"blocks"`
}

// Block is paid from one account on one day.
type Block struct {
	Account   string     `json:"account"`
	Count     string     `json:"count"`
	Sum       string     `json:"sum"`
	Transfers []Transfer `json:"transfers"`
}

// Transfer is one payment.
type Transfer struct {
	ID       string `json:"id"`
	Holder   string `json:"holder"`
	Account  string `json:"account"`
	Amount   string `json:"amount"`
	Currency string `json:"currency"`
}

func main() {
	if err := run(os.Stdin, os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "painread:", err)
		os.Exit(1)
	}
}

func run(in io.Reader, out io.Writer) error {
	raw, err := io.ReadAll(in)
	if err != nil {
		return err
	}
	found, err := read(raw)
	if err != nil {
		return err
	}
	return json.NewEncoder(out).Encode(found)
}

// read lets the library see the version after ours, the only one it knows; the elements we use are the same in both (from memory
// of the two). Its Validate is not asked: it wants both sides of the standard's choice between an IBAN and another number.
func read(raw []byte) (Found, error) {
	doc, err := document.ParseIso20022Document(bytes.Replace(raw, []byte("pain.001.001.09"), []byte("pain.001.001.10"), 1))
	if err != nil {
		return Found{}, err
	}
	message, ok := doc.InspectMessage().(*pain_v10.CustomerCreditTransferInitiationV10)
	if !ok {
		return Found{}, errors.New("it is another message")
	}
	head := message.GrpHdr
	found := Found{Message: string(head.MsgId), Count: string(head.NbOfTxs), Sum: amount(head.CtrlSum)}
	for _, block := range message.PmtInf {
		found.Blocks = append(found.Blocks, blockOf(block))
	}
	return found, nil
}

func blockOf(block pain_v10.PaymentInstruction34) Block {
	b := Block{Account: string(block.DbtrAcct.Id.IBAN), Sum: amount(block.CtrlSum)}
	if block.NbOfTxs != nil {
		b.Count = string(*block.NbOfTxs)
	}
	for _, paid := range block.CdtTrfTxInf {
		t := Transfer{ID: string(paid.PmtId.EndToEndId), Amount: amount(paid.Amt.InstdAmt.Value), Currency: string(paid.Amt.InstdAmt.Ccy)}
		if paid.Cdtr != nil && paid.Cdtr.Nm != nil {
			t.Holder = string(*paid.Cdtr.Nm)
		}
		if paid.CdtrAcct != nil {
			t.Account = string(paid.CdtrAcct.Id.IBAN)
		}
		b.Transfers = append(b.Transfers, t)
	}
	return b
}

func amount(value float64) string { return strconv.FormatFloat(value, 'f', 2, 64) }
