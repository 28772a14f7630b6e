package paper

import (
	"context"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/apierr"
)

func (p *press) makeTicketPDF(ctx context.Context, id string) ([]byte, string, error) {
	d, err := p.readDelivery(ctx, id)
	if err != nil {
		return nil, "", err
	}
	content, err := p.ticketPDF(d)
	return content, "ticket-" + d.ticket.GetNumber() + ".pdf", err
}

func (p *press) makeTicketText(ctx context.Context, id string) ([]byte, string, error) {
	d, err := p.readDelivery(ctx, id)
	if err != nil {
		return nil, "", err
	}
	return p.ticketText(d), "ticket-" + d.ticket.GetNumber() + ".txt", nil
}

func (p *press) makeDrumLabel(ctx context.Context, id string) ([]byte, string, error) {
	f, err := p.readFilled(ctx, id)
	if err != nil {
		return nil, "", err
	}
	content, err := p.drumLabel(f)
	return content, "drum-" + f.barrel.GetDrumTag() + ".pdf", err
}

// makeSampleLabels names the file after nothing: it lies in a folder that the laboratory may see.
func (p *press) makeSampleLabels(ctx context.Context, id string) ([]byte, string, error) {
	b, err := p.intake.GetBarrel(ctx, &intakev1.GetBarrelRequest{Name: "barrels/" + id})
	if err != nil {
		return nil, "", err //nolint:wrapcheck // a refusal of the service
	}
	if b.GetSample() == "" {
		return nil, "", apierr.State(b.GetName(), "NOT_SAMPLED", "no sample of drum "+b.GetDrumTag()+" was drawn yet: draw it first, then print its labels")
	}
	content, err := p.sampleLabels(last(b.GetSample()))
	return content, "sample-labels.pdf", err
}

func (p *press) makeCertificate(ctx context.Context, id string) ([]byte, string, error) {
	g, err := p.readGraded(ctx, id)
	if err != nil {
		return nil, "", err
	}
	content, err := p.certificate(g)
	return content, "certificate-" + g.certificate.GetNumber() + ".pdf", err
}

func (p *press) makePayoutsPDF(ctx context.Context, number string) ([]byte, string, error) {
	a, err := p.readAccount(ctx, number)
	if err != nil {
		return nil, "", err
	}
	content, err := p.payoutsPDF(a)
	return content, "payouts-" + last(a.member.GetName()) + ".pdf", err
}

func (p *press) makePayoutsCSV(ctx context.Context, number string) ([]byte, string, error) {
	a, err := p.readAccount(ctx, number)
	if err != nil {
		return nil, "", err
	}
	content, err := p.payoutsCSV(a)
	return content, "payouts-" + last(a.member.GetName()) + ".csv", err
}

func (p *press) makeMembersCSV(ctx context.Context, _ string) ([]byte, string, error) {
	members, err := p.readMembers(ctx)
	if err != nil {
		return nil, "", err
	}
	content, err := membersCSV(members)
	return content, "members.csv", err
}

func (p *press) makeMembersXLSX(ctx context.Context, _ string) ([]byte, string, error) {
	members, err := p.readMembers(ctx)
	if err != nil {
		return nil, "", err
	}
	content, err := membersXLSX(members)
	return content, "members.xlsx", err
}
