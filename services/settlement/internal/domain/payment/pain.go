package payment

import (
	"encoding/xml"
	"fmt"

	"barrelhead.example/services/kit/checkdigit"
)

// The parts of a customer credit transfer initiation that are used, in their order (ISO 20022 pain.001.001.09).

type painParty struct {
	Name string `xml:"Nm"`
}

type painAccount struct {
	IBAN string `xml:"Id>IBAN"`
}

type painAgent struct {
	BIC   string `xml:"FinInstnId>BICFI,omitempty"`
	Other string `xml:"FinInstnId>Othr>Id,omitempty"`
}

type painAmount struct {
	Currency string `xml:"Ccy,attr"`
	Value    string `xml:",chardata"`
}

type painTransfer struct {
	EndToEnd string      `xml:"PmtId>EndToEndId"`
	Amount   painAmount  `xml:"Amt>InstdAmt"`
	Creditor painParty   `xml:"Cdtr"`
	Account  painAccount `xml:"CdtrAcct"`
	Text     string      `xml:"RmtInf>Ustrd"`
}

type painPayment struct {
	ID        string         `xml:"PmtInfId"`
	Method    string         `xml:"PmtMtd"`
	Count     int            `xml:"NbOfTxs"`
	Sum       string         `xml:"CtrlSum"`
	Date      string         `xml:"ReqdExctnDt>Dt"`
	Debtor    painParty      `xml:"Dbtr"`
	Account   painAccount    `xml:"DbtrAcct"`
	Agent     painAgent      `xml:"DbtrAgt"`
	Transfers []painTransfer `xml:"CdtTrfTxInf"`
}

type painGroup struct {
	ID     string    `xml:"MsgId"`
	Made   string    `xml:"CreDtTm"`
	Count  int       `xml:"NbOfTxs"`
	Sum    string    `xml:"CtrlSum"`
	Sender painParty `xml:"InitgPty"`
}

type painFile struct {
	XMLName xml.Name    `xml:"urn:iso:std:iso:20022:tech:xsd:pain.001.001.09 Document"`
	Group   painGroup   `xml:"CstmrCdtTrfInitn>GrpHdr"`
	Payment painPayment `xml:"CstmrCdtTrfInitn>PmtInf"`
}

// PAIN writes a customer credit transfer initiation with one payment block. Errors: *domain.StateError where the
// cooperative's account is not set, or a payee has no IBAN.
func (f File) PAIN() ([]byte, error) {
	total, err := f.Total()
	if err != nil {
		return nil, err
	}
	if checkdigit.ValidIBAN(f.From.IBAN) != nil {
		return nil, f.forbids("NO_ORIGINATOR", "the settings give no valid IBAN of the cooperative")
	}
	agent := painAgent{BIC: f.From.BIC}
	if agent.BIC == "" {
		agent.Other = "NOTPROVIDED"
	}
	count, sum := len(f.Transfers), total.String()
	doc := painFile{
		Group: painGroup{ID: f.Number, Made: f.Made.UTC().Format("2006-01-02T15:04:05Z"), Count: count, Sum: sum, Sender: painParty{f.From.Name}},
		Payment: painPayment{
			ID: f.Number + "-1", Method: "TRF", Count: count, Sum: sum, Date: string(f.PayDate),
			Debtor: painParty{f.From.Name}, Account: painAccount{f.From.IBAN}, Agent: agent,
		},
	}
	for i, t := range f.Transfers {
		if t.Target.IBAN == "" {
			return nil, f.forbids("NO_IBAN", t.To+" has no IBAN; pay it by ACH in a batch of its own")
		}
		doc.Payment.Transfers = append(doc.Payment.Transfers, painTransfer{
			EndToEnd: fmt.Sprintf("%s-%d", f.Number, i+1), Amount: painAmount{f.Currency, t.Amount.String()},
			Creditor: painParty{t.Target.Holder}, Account: painAccount{t.Target.IBAN}, Text: fmt.Sprintf("Honey payment %s, %s", f.Number, shortName(t.Member)),
		})
	}
	raw, err := xml.MarshalIndent(doc, "", "  ")
	if err != nil {
		return nil, fmt.Errorf("write the payment file: %w", err)
	}
	return append([]byte(xml.Header), append(raw, '\n')...), nil
}
