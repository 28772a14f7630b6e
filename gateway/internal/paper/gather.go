package paper

import (
	"context"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/apierr"
)

// most is the largest page the services give.
const most = 1000

// readDelivery reads a ticket and what it mentions. What the caller may not see of that is left out or not named: whose
// a neighbour's ticket is stays the neighbour's business.
func (p *press) readDelivery(ctx context.Context, id string) (delivery, error) {
	t, err := p.intake.GetTicket(ctx, &intakev1.GetTicketRequest{Name: "tickets/" + id})
	if err != nil {
		return delivery{}, err //nolint:wrapcheck // a refusal of the service
	}
	d := delivery{ticket: t}
	if d.replaces, err = p.ticketNumber(ctx, t.GetSupersedes()); err != nil {
		return d, err
	}
	if d.replacedBy, err = p.ticketNumber(ctx, t.GetSupersededBy()); err != nil {
		return d, err
	}
	scales, err := p.intake.ListScales(ctx, &intakev1.ListScalesRequest{})
	if err != nil && !hidden(err) {
		return d, err //nolint:wrapcheck // a refusal of the service
	}
	d.scales = known(t, scales.GetScales())
	return d, nil
}

func (p *press) ticketNumber(ctx context.Context, name string) (string, error) {
	if name == "" {
		return "", nil
	}
	t, err := p.intake.GetTicket(ctx, &intakev1.GetTicketRequest{Name: name})
	switch {
	case err == nil:
		return "ticket " + t.GetNumber(), nil
	case hidden(err):
		return "another ticket", nil
	default:
		return "", err //nolint:wrapcheck // a refusal of the service
	}
}

// readFilled reads a barrel, its ticket, and the first ticket it was ever on.
func (p *press) readFilled(ctx context.Context, id string) (filled, error) {
	b, err := p.intake.GetBarrel(ctx, &intakev1.GetBarrelRequest{Name: "barrels/" + id})
	if err != nil {
		return filled{}, err //nolint:wrapcheck // a refusal of the service
	}
	f := filled{barrel: b}
	for name := b.GetTicket(); name != ""; name = f.first.GetSupersedes() {
		if f.first, err = p.intake.GetTicket(ctx, &intakev1.GetTicketRequest{Name: name}); err != nil {
			return f, err //nolint:wrapcheck // a refusal of the service
		}
		if f.ticket == nil {
			f.ticket = f.first
		}
	}
	switch f.ticket.GetState() { //nolint:exhaustive // on the others the barrel counts
	case intakev1.TicketState_TICKET_STATE_VOIDED, intakev1.TicketState_TICKET_STATE_CANCELLED:
		return f, apierr.State(b.GetName(), words(f.ticket.GetState()), "ticket "+f.ticket.GetNumber()+" counts no more and neither does this barrel: a drum with its label would be taken for stock")
	}
	return f, nil
}

func (p *press) readGraded(ctx context.Context, id string) (graded, error) {
	c, err := p.grading.GetCertificate(ctx, &gradingv1.GetCertificateRequest{Name: "certificates/" + id})
	if err != nil {
		return graded{}, err //nolint:wrapcheck // a refusal of the service
	}
	g := graded{certificate: c}
	if g.replaces, err = p.certificateNumber(ctx, c.GetSupersedes()); err != nil {
		return g, err
	}
	g.replacedBy, err = p.certificateNumber(ctx, c.GetSupersededBy())
	return g, err
}

func (p *press) certificateNumber(ctx context.Context, name string) (string, error) {
	if name == "" {
		return "", nil
	}
	c, err := p.grading.GetCertificate(ctx, &gradingv1.GetCertificateRequest{Name: name})
	if err != nil {
		return "", err //nolint:wrapcheck // a refusal of the service
	}
	return "certificate " + c.GetNumber(), nil
}

// readAccount reads the member last: a neighbour's payouts are refused first, and as if there were none.
func (p *press) readAccount(ctx context.Context, number string) (account, error) {
	name := "members/" + number
	payouts, err := pages(func(token string) ([]*settlementv1.Payout, string, error) {
		answer, err := p.settlement.ListPayouts(ctx, &settlementv1.ListPayoutsRequest{Member: name, PageSize: most, PageToken: token})
		return answer.GetPayouts(), answer.GetNextPageToken(), err //nolint:wrapcheck // a refusal of the service
	})
	if err != nil {
		return account{}, err
	}
	waiting, err := pages(func(token string) ([]*settlementv1.Unpriced, string, error) {
		answer, err := p.settlement.ListUnpriced(ctx, &settlementv1.ListUnpricedRequest{Member: name, PageSize: most, PageToken: token})
		return answer.GetUnpriced(), answer.GetNextPageToken(), err //nolint:wrapcheck // a refusal of the service
	})
	if err != nil {
		return account{}, err
	}
	member, err := p.intake.GetMember(ctx, &intakev1.GetMemberRequest{Name: name})
	if err != nil {
		return account{}, err //nolint:wrapcheck // a refusal of the service
	}
	return newAccount(member, payouts, waiting, p.Cooperative.Currency)
}

func (p *press) readMembers(ctx context.Context) ([]*intakev1.Member, error) {
	return pages(func(token string) ([]*intakev1.Member, string, error) {
		answer, err := p.intake.ListMembers(ctx, &intakev1.ListMembersRequest{PageSize: most, PageToken: token})
		return answer.GetMembers(), answer.GetNextPageToken(), err //nolint:wrapcheck // a refusal of the service
	})
}

func pages[T any](read func(token string) (items []T, next string, err error)) ([]T, error) {
	var all []T
	token := ""
	for {
		items, next, err := read(token)
		if err != nil {
			return nil, err
		}
		all = append(all, items...)
		if next == "" {
			return all, nil
		}
		token = next
	}
}
