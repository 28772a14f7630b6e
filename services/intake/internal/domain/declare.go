package domain

// Declared reports whether the harvest and treatment declaration is there by now.
func (t Ticket) Declared() bool { return t.HarvestDeclared || !t.LateDeclareTime.IsZero() }

// MayDeclare refuses a second declaration, and one for a ticket that counts no more.
func (t Ticket) MayDeclare() error {
	if t.State != Open && t.State != Closed {
		return t.stateForbids("ticket %s is %s: declare the harvest on the ticket that stands", t.Number, t.State.words())
	}
	if t.Declared() {
		return stateForbids(t.Name(), "DECLARED", "the harvest of ticket %s is declared already", t.Number)
	}
	return nil
}
